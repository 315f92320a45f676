"""Choosing the parts: by request, and through the guided flow."""

import itertools
import json

import pytest

from fieldkit.engine.problems import OutOfRange, Problem, Refused
from fieldkit.flows.calculations import calculate
from fieldkit.flows.choosing.questions import FLOWS
from fieldkit.flows.question import Choice, Quantity, Several, Whole
from fieldkit.tables.fittings import fittings, joints
from fieldkit.tables.load import ROW_STATUSES, known_sources
from fieldkit.tables.pipes import pipes

(FLOW,) = FLOWS

REQUEST = {
    "pvc": {"nominal": "1/2", "class": "Sch 40"},
    "tubing": {"od": "0.700 in", "bore": "0.600 in"},
    "place": "end",
    "branches": 1,
    "valve": False,
    "count": 12,
    "pressure": "45 psi",
    "temperature": "73 F",
    "wants": {"reusable": False, "cheapest": True},
    "prices": "demo",
}


def ask(**changes):
    return calculate("transition", REQUEST | changes).as_json()


# ── By request ──────────────────────────────────────────────────────────────────────────────


def test_the_answer_has_the_keys_of_the_contract_and_is_json():
    answer = json.loads(json.dumps(ask()))
    assert {"verdict", "headline", "cautions", "working", "assemblies", "refused"} <= set(answer)
    assert answer["break_even_count"] == 2
    for one in answer["assemblies"]:
        assert isinstance(one["reusable"], bool)
        assert one["hand_strength"] in (1, 2, 3)
        assert one["cost"] > 0
        assert one["holds_psi"] >= 45
        for part in one["parts"]:
            assert part["id"] in fittings()
            assert part["name"]
            assert part["count"] >= 1
        for joint in one["joints"]:
            assert joint["kind"] in joints()
            assert len(joint["between"]) == 2
    assert all(refused["part"] and refused["why"] for refused in answer["refused"])
    assert answer["parts_list"]["joints"] == 12


def test_every_line_of_working_has_a_source_we_list():
    for line in ask()["working"]:
        assert line["source"] in known_sources()
        assert line["status"] in ROW_STATUSES


def test_demo_prices_are_called_invented_and_ones_own_are_not():
    assert any("illustrative and invented" in text for text in ask()["cautions"])
    own = ask(prices={"coupling_0500": 1, "ring_insert_0500_0700": "$2.00", "gizmo": 3})
    assert not any("illustrative" in text for text in own["cautions"])
    assert any("not in our list: gizmo" in text for text in own["cautions"])
    costs = {one["key"]: one["cost"] for one in own["assemblies"]}
    assert costs["coupling_0500+ring_insert_0500_0700"] == 3.0


def test_without_prices_the_cost_is_open():
    answer = ask(prices=None)
    assert answer["assemblies"]
    assert all(one["cost"] is None for one in answer["assemblies"])
    assert answer["parts_list"]["total"] is None
    said = "No prices were given: the number of parts is compared instead of cost."
    assert said in answer["cautions"]
    assert said not in ask()["cautions"]


@pytest.mark.parametrize(
    "wants", [["reusable"], "reusable", {"reusable": "yes"}, {"reusable": True}]
)
def test_wants_may_be_named_in_any_usual_form(wants):
    assert all(one["reusable"] for one in ask(wants=wants)["assemblies"])


def test_quantities_may_carry_other_units():
    metric = ask(
        tubing={"od": "17.78 mm", "bore": "15.24 mm"}, pressure="310 kPa", temperature="20 C"
    )
    assert [one["key"] for one in metric["assemblies"]] == [
        one["key"] for one in ask()["assemblies"]
    ]


def test_a_wall_gives_the_diameter_that_is_missing():
    by_wall = ask(tubing={"od": "0.700 in", "wall": "0.050 in"})
    assert by_wall["assemblies"] == ask()["assemblies"]


@pytest.mark.parametrize(
    ("pvc", "outside"),
    [
        ({"nominal": "1/2", "class": "CTS"}, "0.625 in outside, 0.215 in under the 0.840"),
        ({"nominal": "1/2", "od": "0.625 in"}, "0.625 in outside, 0.215 in under the 0.840"),
        ({"nominal": "25 mm"}, "0.984 in outside, 0.066 in under the 1.050"),
    ],
)
def test_pipe_that_is_not_iron_pipe_size_fits_nothing(pvc, outside):
    answer = ask(pvc=pvc)
    assert answer["verdict"] == "none"
    assert outside in answer["headline"]
    assert answer["refused"]


def test_surge_is_added_to_the_static_pressure():
    assert ask(pressure="45 psi", surge="10 psi")["assemblies"][0]["holds_psi"] >= 55


def test_parts_to_hand_are_the_only_ones_used():
    van = ["coupling_0500", "ring_insert_0500_0700", "tee_0500"]
    (one,) = ask(parts_to_hand=van)["assemblies"]
    assert {part["id"] for part in one["parts"]} == set(van[:2])
    nothing = ask(parts_to_hand=["tee_0500"])
    assert nothing["verdict"] == "none"
    assert "parts at hand" in nothing["headline"]


def test_a_sprinkler_riser_takes_a_riser_adapter():
    answer = ask(place="riser", start="npt-male")
    assert answer["assemblies"][0]["parts"][0]["id"]
    keys = [one["key"] for one in answer["assemblies"]]
    assert "riser_to_tube_0500" in keys
    assert any("filter and a regulator" in text for text in answer["cautions"])


def test_keys_that_nobody_reads_are_reported():
    assert any("colour" in text for text in ask(colour="red")["cautions"])


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"pvc": {}}, "pvc.nominal"),
        ({"pvc": {"nominal": "7"}}, "pvc.nominal"),
        ({"pvc": {"nominal": "1/2", "class": "SDR 41"}}, "pvc.class"),
        ({"tubing": {}}, "tubing.od"),
        ({"tubing": {"od": "about an inch"}}, "tubing.od"),
        ({"tubing": {"od": "0.6 in", "bore": "0.7 in"}}, "tubing.bore"),
        ({"place": "roof"}, "place"),
        ({"branches": 3}, "branches"),
        ({"count": 0}, "count"),
        ({"pressure": "-5 psi"}, "pressure"),
        ({"wants": ["gold"]}, "wants"),
        ({"prices": "cheap"}, "prices"),
        ({"prices": {"tee_0500": "x"}}, "prices.tee_0500"),
        ({"parts_to_hand": ["gizmo"]}, "parts_to_hand"),
        ({"parts_to_hand": "tee_0500"}, "parts_to_hand"),
        ({"place": "inline", "start": "socket"}, "start"),
        ({"temperature": "190 F"}, "temperature"),
    ],
)
def test_what_cannot_be_answered_names_its_key(change, field):
    with pytest.raises(Problem, match=r".") as caught:
        ask(**change)
    assert caught.value.field == field
    assert caught.value.wrong
    assert caught.value.instead


# ── The guided flow ─────────────────────────────────────────────────────────────────────────


def answers_of(step):
    """A few answers that a person may give, the way out first."""
    match step.kind:
        case Choice(options):
            return [None, options[0].value, options[-1].value]
        case Quantity():
            return [
                None,
                {"psi": 30.0, "°F": 80.0}.get(step.kind.unit, 0.7 if "od" in step.id else 0.6),
            ]
        case Whole():
            return [None, 12]
        case Several(options):
            return [None, [], [options[0].value]]
    raise AssertionError(step.id)


def walk(choose, facts):
    """Answer each step by ``choose`` until the flow has no more."""
    given = {}
    for _ in range(40):
        step = FLOW.next_step(given, facts)
        if step is None:
            return given
        given[step.id] = choose(step)
    raise AssertionError("the flow does not end")


def ending(given):
    """The step that the flow goes back to, or ``shown``."""
    try:
        answer = FLOW.work_out(given, {"prices": "demo"}).as_json()
    except Problem as problem:
        return problem.field
    return "shown" if FLOW.show(answer) else "an empty page"


def test_every_path_ends_in_an_answer_or_goes_back_to_a_step_that_was_asked():
    reached = set()
    tubes = ["nominal", "tube_od", "half_inch", "tube_bore", "place", "start"]
    by_step = {step.id: answers_of(step) for step in FLOW.steps}
    for combination in itertools.product(*(by_step[one] for one in tubes)):
        picked = dict(zip(tubes, combination, strict=True))
        given = walk(lambda step, picked=picked: picked.get(step.id, by_step[step.id][-1]), {})
        reached |= set(given)
        outcome = ending(given)
        assert outcome in given or outcome == "shown"
    assert reached == set(by_step) - {"regulator"}  # a change alone answers that one


def test_every_step_can_be_left_unanswered_once_pipe_and_tube_are_known():
    facts = {"pipe.nominal": "1/2", "tube.od_in": 0.7}
    given = walk(lambda step: None, facts)
    answer = FLOW.work_out(given, facts)
    assert answer.assemblies
    assert any(line.name == "class of the pipe" for line in answer.working)


def test_a_tube_that_was_not_measured_goes_back_to_measuring():
    with pytest.raises(Problem, match="Measure across") as caught:
        FLOW.work_out({"nominal": "1/2", "tube_od": None, "half_inch": None}, {})
    assert caught.value.field == "tube_od"


def test_half_inch_of_an_unknown_kind_gets_ends_that_take_all_of_it():
    answer = FLOW.work_out(
        {"nominal": "1/2", "tube_od": None, "half_inch": "yes"}, {"prices": "demo"}
    )
    kinds = {one.joints[-1].kind for one in answer.assemblies}
    assert kinds == {"collar", "grip_tube"}
    assert any("Measure the tube before you buy" in text for text in answer.cautions)


def test_an_unknown_pipe_goes_back_to_its_size():
    with pytest.raises(Problem, match=r"0\.840 is ½ in") as caught:
        FLOW.work_out({"nominal": None, "tube_od": 0.7}, {})
    assert caught.value.field == "nominal"


def test_heat_past_the_table_goes_back_to_the_temperature():
    with pytest.raises(OutOfRange, match="not rated") as caught:
        FLOW.work_out({"nominal": "1/2", "tube_od": 0.7}, {"site.temperature_f": 160.0})
    assert caught.value.field == "temperature"


def test_what_the_log_knows_is_not_asked_again():
    facts = {
        "pipe.nominal": "3/4",
        "pipe.class": "Sch 40",
        "tube.od_in": 0.7,
        "tube.bore_in": 0.6,
        "site.place": "end",
        "site.pressure_psi": 30.0,
        "site.temperature_f": 90.0,
        "parts.count": 4,
    }
    assert set(walk(lambda step: answers_of(step)[-1], facts)) == {"branches", "valve", "wants"}


def row_id(family, **sizes):
    """Id of the first row of the pipe table of a family and sizes."""
    rows = (row for row in pipes().values() if row.family == family)
    return next(r.id for r in rows if all(getattr(r, k) == v for k, v in sizes.items()))


def test_tube_known_by_its_name_is_not_measured_again():
    facts = {"pipe.nominal": "1/2", "tube.id": row_id("drip", od_in=0.7, bore_in=0.6)}
    given = walk(lambda step: None, facts)
    assert not {"tube_od", "tube_bore", "half_inch"} & set(given)
    kinds = {one.joints[-1].kind for one in FLOW.work_out(given, facts).assemblies}
    assert {"ring", "collar", "barb_clamped"} <= kinds


def test_pipe_named_as_another_family_fits_nothing():
    facts = {"pipe.id": row_id("cts-cpvc", nominal="1/2"), "tube.od_in": 0.7}
    answer = FLOW.work_out({}, facts)
    assert answer.verdict == "none"


@pytest.mark.parametrize("named", [{"material": "CPVC"}, {"family": "cpvc-ips"}])
def test_cpvc_of_iron_pipe_size_goes_into_no_pvc_socket(named):
    """ASTM F441 pipe has the outside of PVC pipe; ASTM F493 is its cement, D2564 that of PVC."""
    with pytest.raises(Refused, match="CPVC cement"):
        ask(pvc={"nominal": "3/4", "class": "Sch 80", **named})
    facts = {"pipe.id": "cpvc-ips-0750-sch80", "pipe.material": "cpvc", "pipe.nominal": "3/4",
             "pipe.class": "Sch 80", "tube.od_in": 0.7, "tube.bore_in": 0.6}  # fmt: skip
    with pytest.raises(Refused, match="CPVC cement") as caught:
        FLOW.work_out({}, facts)
    assert FLOW.step(caught.value.field)
    at_thread = FLOW.work_out({"place": "riser", "start": "npt-male"}, facts)
    assert at_thread.assemblies


def test_picking_a_card_teaches_the_log_the_parts():
    given = {"nominal": "1/2", "tube_od": 0.7, "tube_bore": 0.6, "count": 12, "wants": ["buried"]}
    answer = FLOW.work_out(given, {"prices": "demo"}).as_json()
    cards = [card for block in FLOW.show(answer) if hasattr(block, "cards") for card in block.cards]
    assert [card.picked for card in cards].count(True) == 1
    assert len({card.pick for card in cards}) == len(cards) == len(answer["assemblies"])
    learned = FLOW.pick(answer, cards[0].pick)
    assert learned["parts.joints"] == [j["kind"] for j in answer["assemblies"][0]["joints"]]
    assert learned["parts.count"] == 12
    assert learned["parts.holds_psi"] == answer["assemblies"][0]["holds_psi"]
    assert FLOW.pick(answer, "nothing on offer") == {}
    assert FLOW.learn(given, answer) == {
        "pipe.nominal": "1/2",
        "tube.od_in": 0.7,
        "tube.bore_in": 0.6,
        "parts.count": 12,
        "site.buried": True,
    }


def test_the_steps_name_sources_we_list_and_ways_out():
    for step in FLOW.steps:
        assert set(step.sources) <= known_sources()
        assert step.cant_tell
