"""The measuring flows: every path ends, and every page has a way out."""

from __future__ import annotations

import itertools

import pytest

from fieldkit.engine.problems import Problem
from fieldkit.flows.block import Notes, Table
from fieldkit.flows.calculations import calculate
from fieldkit.flows.catalogue import flows
from fieldkit.flows.facts import FACTS
from fieldkit.flows.flow import Flow
from fieldkit.flows.measuring.questions import FLOWS
from fieldkit.flows.question import CANT_TELL
from fieldkit.tables.cautions import cautions
from fieldkit.tables.load import known_sources
from fieldkit.tables.pipes import pipes

ANSWERS = {
    "tool": ["caliper", "strip", "none", CANT_TELL, "screen"],
    "print": ["PE DRIP 0.700", CANT_TELL],
    "zero": [0.001, CANT_TELL, 0.0],
    "readings": [[0.700, 0.702, 0.699, 0.701], [0.70, 0.71], CANT_TELL],
    "strips": [[2.21], [2.21, 2.22, 2.2], CANT_TELL],
    "screen": [{"outside": 0.7, "bore": 0.6}, {"outside": 0.7}, CANT_TELL],
    "temperature": [95.0, CANT_TELL],
    "wall": [0.06, CANT_TELL],
    "bore": [{"bore": 0.6}, {"goes": 19 / 32, "stops": 39 / 64}, CANT_TELL],
}


def walk(flow: Flow, choose: tuple[int, ...]) -> dict[str, object]:
    """Answer each step that is asked with the chosen one of its answers."""
    given: dict[str, object] = {}
    for turn in itertools.count():
        assert turn < 20, "the flow does not end"
        step = flow.next_step(given, {})
        if step is None:
            return given
        options = ANSWERS[step.id]
        given[step.id] = options[choose[turn % len(choose)] % len(options)]
    raise AssertionError


PATHS = list(itertools.product(range(5), range(3), range(2), range(3)))


@pytest.mark.parametrize("flow", FLOWS, ids=lambda flow: flow.id)
def test_every_path_ends_in_an_answer_and_every_step_is_reached(flow):
    reached = set()
    for path in PATHS:
        given = walk(flow, path)
        reached |= set(given)
        shaped = flow.work_out(given, {}).as_json()
        learned = flow.learn(given, shaped)
        assert flow.show(shaped)
        assert set(learned) <= set(FACTS)
        measured = bool(any(given.get(one) for one in ("readings", "strips", "screen")))
        assert (shaped["verdict"] == "no_measurement") is not measured
        assert bool(learned) is measured
    assert reached == {step.id for step in flow.steps}


@pytest.mark.parametrize("flow", FLOWS, ids=lambda flow: flow.id)
def test_every_step_has_a_way_out_and_named_sources(flow):
    for step in flow.steps:
        assert step.cant_tell
        assert step.why
        assert set(step.sources) <= known_sources()
        assert set(step.caution) <= set(cautions())
        assert all(len(part.split()) < 20 for part in step.hint.split(". "))


def test_the_pipe_learns_its_wall_and_the_tube_its_bore():
    pipe, tube = FLOWS
    given = {"tool": "caliper", "readings": [0.84, 0.841, 0.839, 0.84], "temperature": 73.0}
    shaped = pipe.work_out(given | {"wall": 0.113}, {}).as_json()
    learned = pipe.learn({}, shaped)
    assert learned["pipe.od_in"] == pytest.approx(0.84, abs=1e-6)
    assert learned["pipe.wall_in"] == 0.113
    shaped = tube.work_out(given | {"bore": {"goes": 19 / 32, "stops": 39 / 64}}, {}).as_json()
    learned = tube.learn({}, shaped)
    assert learned["tube.bore_in"] == pytest.approx(0.6016, abs=0.0001)
    assert "tube.u_od_in" in learned


@pytest.mark.parametrize(
    ("given", "step", "sentence"),
    [
        ({"tool": "caliper", "readings": [0.7, 0.7, 17.8]}, "readings", "looks like millimeters"),
        ({"tool": "strip", "strips": [56.2]}, "strips", "If it is millimeters"),
        ({"tool": "strip", "strips": [2.2], "bore": {"goes": 0.6}}, "bore", "Give both"),
        ({"tool": "strip", "strips": [2.2], "bore": {"bore": 0.9}}, "bore", "does not fit"),
        (
            {"tool": "strip", "strips": [2.2], "bore": {"goes": 0.6, "stops": 0.5}},
            "bore",
            "cannot stop",
        ),
        ({"screen": {"bore": 0.6}}, "screen", "alone does not tell"),
        ({"screen": {"outside": 0.7, "bore": 0.8}}, "screen", "is not below"),
        ({"tool": "screen", "screen": {"outside": 17.8}}, "screen", "If it is millimeters"),
    ],
)
def test_a_problem_sends_back_to_its_own_step(given, step, sentence):
    tube = FLOWS[1]
    with pytest.raises(Problem, match=sentence) as caught:
        tube.work_out(given, {})
    assert caught.value.field == step
    assert tube.step(step) is not None


def test_a_wall_as_thick_as_the_pipe_is_asked_again():
    given = {"tool": "caliper", "readings": [0.84, 0.84], "wall": 0.84}
    with pytest.raises(Problem, match="leaves no hole") as caught:
        FLOWS[0].work_out(given, {})
    assert caught.value.field == "wall"


def test_the_odd_reading_is_marked_on_the_page():
    given = {"tool": "caliper", "readings": [0.70, 0.701, 0.76, 0.70], "temperature": 73.0}
    shaped = FLOWS[1].work_out(given, {}).as_json()
    table = next(block for block in FLOWS[1].show(shaped) if isinstance(block, Table))
    assert [row[2] != "" for row in table.rows] == [False, False, True, False]


def test_what_the_screen_reads_names_the_size_and_never_stands_as_a_measured_one():
    tube = FLOWS[1]
    given = {"screen": {"outside": 17.8 / 25.4, "bore": 15.2 / 25.4}}
    assert tube.next_step(given, {}) is None  # the gauge's answer says with what it was measured
    shaped = tube.work_out(given, {}).as_json()
    learned = tube.learn(given, shaped)
    assert learned["tube.od_tool"] == "screen"
    assert learned["tube.screen_bore_in"] == pytest.approx(15.2 / 25.4)
    assert not {"tube.od_in", "tube.bore_in"} & set(learned)
    identify = flows()["identify-tube"]
    assert identify.next_step({}, learned).id != "od"  # nothing is asked twice
    named = identify.work_out({"print_line": None}, learned).as_json()
    listed = {one["id"]: one["probability"] for one in named["candidates"]}
    near = [pipes()[one].od_in for one, share in listed.items() if share > 0.1 and one in pipes()]
    assert near
    assert all(abs(od - 17.8 / 25.4) < 2 * learned["tube.screen_u_od_in"] for od in near)
    assert named["od_tool"] == "screen"


@pytest.mark.parametrize("tool", ["none", CANT_TELL])
def test_without_a_tool_the_screen_the_strip_and_the_print_are_one_tap_away(tool):
    for flow in FLOWS:
        shaped = flow.work_out({"tool": tool}, {}).as_json()
        changes = flow.changes(shaped, {"tool": tool}, {})
        assert [one.typed for one in changes] == [
            (("tool", ("screen",)),),
            (("tool", ("strip",)),),
        ]
        assert flow.onward(shaped, {}).flow.startswith("identify-")
        assert any(
            "screen" in row[0]
            for one in flow.show(shaped)
            if isinstance(one, Table)
            for row in one.rows
        )


def test_without_an_instrument_the_page_lists_ways():
    shaped = FLOWS[1].work_out({"tool": CANT_TELL}, {}).as_json()
    blocks = FLOWS[1].show(shaped)
    assert any(isinstance(block, Notes) for block in blocks)
    assert any("19/32" in row for block in blocks if isinstance(block, Table) for row in block.rows)


# ── The calculation by name ──────────────────────────────────────────────────────────────────


def test_measure_takes_units_as_typed():
    readings = ["0.700 in", "17.8 mm", '0.702"', 0.699]
    found = calculate("measure", {"readings": readings, "method": "caliper", "material": "pe"})
    shaped = found.as_json()
    # 17.8 mm = 0.70079 in.
    assert shaped["od_in"] == pytest.approx((0.700 + 17.8 / 25.4 + 0.702 + 0.699) / 4, abs=1e-8)
    assert shaped["ovality_in"] == pytest.approx(0.003)
    assert shaped["u_od_in"] > 0


def test_a_strip_and_a_thread_of_the_same_tube_agree():
    # Round 0.700 in: π × (0.700 + d) a turn, for paper of 0.004 in and thread of 0.020 in.
    strip = {"readings": ["2.2117 in"], "method": "paper strip", "material": "pe"}
    thread = {
        "readings": [f"{5 * 3.14159265 * 0.720:.6f}"],
        "method": "strip",
        "material": "pe",
        "paper": "0.020 in",
        "turns": 5,
    }
    one, other = (calculate("measure", body).as_json() for body in (strip, thread))
    assert one["od_in"] == pytest.approx(0.7, abs=1e-4)
    assert other["od_in"] == pytest.approx(0.7, abs=1e-4)
    assert other["u_od_in"] < one["u_od_in"]
    assert one["ovality_in"] is None


def test_an_assumed_method_is_said():
    shaped = calculate("measure", {"readings": [0.7, 0.7], "material": "poly"}).as_json()
    assert shaped["method"] == "caliper"
    assert shaped["working"][0]["formula"].startswith("assumed")


@pytest.mark.parametrize(
    ("body", "field", "sentence"),
    [
        ({"readings": [0.7]}, "material", "Nothing was given"),
        ({"readings": [0.7], "material": "wood"}, "material", "Choose one of: pvc, pe"),
        (
            {"readings": [0.7], "material": "pe", "method": "eye"},
            "method",
            "Choose one of: caliper, strip, screen",
        ),
        ({"material": "pe"}, "readings", "Nothing was given"),
        ({"readings": ["0,700"], "material": "pe"}, "readings[0]", "can be read as"),
        ({"readings": [0.7], "material": "pe", "temperature": "68"}, "", ""),
        ({"readings": [0.7, 17.8], "material": "pe"}, "readings[1]", "looks like millimeters"),
    ],
)
def test_a_request_that_cannot_be_answered_names_its_key(body, field, sentence):
    if not field:
        assert calculate("measure", body).verdict == "measured"
        return
    with pytest.raises(Problem, match=sentence) as caught:
        calculate("measure", body)
    assert caught.value.field == field
