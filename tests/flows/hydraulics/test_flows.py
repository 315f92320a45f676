"""Guided flows of lasting: each path ends, each step is reached, can't-tell leads somewhere."""

import itertools
import re
from xml.etree import ElementTree

import pytest

from fieldkit.engine.problems import Problem
from fieldkit.flows.block import Drawing, Table
from fieldkit.flows.catalogue import flows
from fieldkit.flows.facts import FACTS
from fieldkit.flows.question import Choice, Quantity, Several, Whole

FLOWS = {
    name: flows()[name]
    for name in ("hold", "surge", "flow-loss", "longest-run", "size-line", "riser-to-tube")
}

#: One sensible answer where the first option or a mid figure would not do.
SENSIBLE = {
    "bore": 0.6,
    "flow": 2.0,
    "length": 60.0,
    "water": 68.0,
    "barbs": 2,
    "barb_bore": 0.45,
    "outlet_flow": 1.0,
    "spacing": 12.0,
    "inlet_pressure": 25.0,
    "rise": 0.0,
    "pressure": 50.0,
    "surge": 10.0,
    "temperature": 90.0,
    "air": 90.0,
    "main_length": 50.0,
    "outlets": 60,
    "regulator": 25.0,
    "head_flow": 1.5,
    "heads": 4,
    "tube_od": 0.7,
    "nominal": "3/4",
    "class": "Sch 40",
    "size": "1/2",
    "joints": ["solvent_socket", "collar"],
}


def walk(flow, choose, facts=None):
    """Answer each question as it comes; the answers given."""
    given = {}
    for _ in range(60):
        step = flow.next_step(given, facts or {})
        if step is None:
            return given
        given[step.id] = choose(step)
    raise AssertionError(f"{flow.id} does not end")


def sensible(step):
    if step.id in SENSIBLE:
        return SENSIBLE[step.id]
    assert isinstance(step.kind, Choice)
    return step.kind.options[0].value


def finished(flow, given, facts=None):
    """Work out and lay out; an answer, or a problem that sends back to a step of the flow."""
    problem = None
    try:
        answer = flow.work_out(given, facts or {})
    except Problem as found:
        problem = found
    if problem is not None:
        assert flow.step(problem.field) is not None, problem.field
        assert str(problem.instead)
        return None
    shaped = answer.as_json()
    blocks = flow.show(shaped)
    assert blocks
    learned = flow.learn(given, shaped)
    assert set(learned) <= set(FACTS)
    assert shaped["cautions"]
    for line in shaped["working"]:
        assert line["source"]
    for block in blocks:
        if isinstance(block, Table):
            assert all(len(row) == len(block.columns) for row in block.rows)
    return shaped


@pytest.mark.parametrize("flow", FLOWS.values(), ids=FLOWS)
def test_a_plain_walk_ends_in_an_answer(flow):
    assert finished(flow, walk(flow, sensible)) is not None


@pytest.mark.parametrize("flow", FLOWS.values(), ids=FLOWS)
def test_cant_tell_everywhere_leads_somewhere(flow):
    finished(flow, walk(flow, lambda step: None))


@pytest.mark.parametrize("flow", FLOWS.values(), ids=FLOWS)
def test_cant_tell_at_any_one_step_leads_somewhere(flow):
    for one in flow.steps:
        given = walk(flow, lambda step, one=one: None if step.id == one.id else sensible(step))
        finished(flow, given)


@pytest.mark.parametrize("flow", FLOWS.values(), ids=FLOWS)
def test_every_option_of_every_choice_leads_somewhere(flow):
    reached = set()
    for one in flow.steps:
        options = [option.value for option in one.kind.options] if _choosy(one) else [None]
        for option in options:
            value = [option] if isinstance(one.kind, Several) else option
            given = walk(
                flow,
                lambda step, one=one, value=value: value if step.id == one.id else sensible(step),
            )
            reached |= set(given)
            finished(flow, given)
    hot = walk(flow, lambda step: None if step.id == "temperature" else sensible(step))
    flowed = walk(flow, lambda step: "flow" if step.id == "wants" else sensible(step))
    assert {step.id for step in flow.steps if not step.folded} <= reached | set(hot) | set(flowed)


def _choosy(step):
    return isinstance(step.kind, Choice | Several)


@pytest.mark.parametrize("flow", FLOWS.values(), ids=FLOWS)
def test_questions_are_plain_and_have_a_way_out(flow):
    for step in flow.steps:
        assert step.ask.endswith("?")
        assert len(step.ask.split()) <= 20
        assert step.why
        assert step.trade
        assert step.cant_tell
        assert isinstance(step.kind, Choice | Several | Quantity | Whole)
        for sentence in re.split(r"(?<=[.!?]) ", f"{step.why} {step.hint}"):
            assert len(sentence.split()) <= 20, sentence
        if step.fact:
            assert step.fact in FACTS


def test_what_the_log_knows_is_not_asked_again():
    facts = {
        "site.pressure_psi": 40.0,
        "site.temperature_f": 90.0,
        "pipe.nominal": "1/2",
        "pipe.class": "Sch 40",
        "tube.bore_in": 0.6,
        "tube.od_in": 0.7,
        "parts.joints": ["solvent_socket", "npt", "collar"],
        "last.surge_psi": 20.0,
    }
    assert FLOWS["hold"].next_step({}, facts) is None
    held = finished(FLOWS["hold"], {}, facts)
    assert (held["peak_psi"], held["weakest"]) == (60.0, "collar")
    asked = walk(FLOWS["size-line"], sensible, facts)
    assert not {"pressure", "nominal", "class", "bore", "joints", "temperature"} & set(asked)
    assert finished(FLOWS["size-line"], asked, facts)["verdict"] == "works"


def _sized(**change):
    given = walk(FLOWS["size-line"], sensible) | change
    return finished(FLOWS["size-line"], given)


def test_a_long_line_is_told_a_larger_size_or_a_split():
    answer = _sized(outlets=400, bore=0.52)
    assert answer["verdict"] == "change"
    assert not answer["served"]
    assert any("Use" in one["change"] or "Keep" in one["change"] for one in answer["findings"])


def test_high_pressure_on_tubing_asks_for_a_regulator():
    answer = _sized(pressure=80.0, regulator=None)
    assert answer["regulator_needed"]
    assert 15.0 <= answer["regulator_psi"] <= 30.0
    assert any("regulator" in text for text in answer["order"])


def test_low_pressure_needs_none():
    answer = _sized(pressure=20.0, regulator=None, joints=["barb_clamped"])
    assert not answer["regulator_needed"]
    assert any("No pressure regulator" in text for text in answer["order"])


def test_the_first_thing_to_give_is_named_with_a_change():
    answer = _sized(joints=["barb_bare"], regulator=None, temperature=120.0)
    assert answer["gives_first"] == "tube pushed over a ridged end"
    assert "barb" not in answer["findings"][0]["what"] or answer["findings"][0]["change"]
    assert answer["headline"].startswith("Change something first")


def test_sun_makes_it_hotter_and_says_it_is_an_estimate():
    facts = {}
    hold = FLOWS["hold"]
    given = walk(hold, lambda step: None if step.id == "temperature" else sensible(step))
    shade = finished(hold, given | {"sun": "no"}, facts)
    bare = finished(hold, given | {"sun": "yes"}, facts)
    assert bare["limit_psi"] < shade["limit_psi"]
    assert any("estimate" in line["name"] for line in bare["working"])


def test_a_riser_feeds_three_quarters_of_what_it_had():
    answer = finished(FLOWS["riser-to-tube"], walk(FLOWS["riser-to-tube"], sensible) | {"heads": 1})
    # 1.5 gpm × 0.75 is 67.5 gallons an hour: 67 emitters of 1 gph.
    assert answer["emitters"] == 67
    assert answer["heads_to_cap"] == 0
    assert answer["transition"]["assemblies"]


def test_capped_heads_leave_their_water_but_the_riser_has_a_limit():
    plain = walk(FLOWS["riser-to-tube"], sensible)
    many = finished(FLOWS["riser-to-tube"], plain | {"heads": 20, "others": "cap"})
    kept = finished(FLOWS["riser-to-tube"], plain | {"heads": 20, "others": "keep"})
    assert many["limited_by"] == "speed in the riser"
    assert many["heads_to_cap"] == 19
    assert kept["emitters"] < many["emitters"]
    assert any("never suit" in text for text in kept["cautions"])


def test_a_riser_offers_parts_to_pick():
    flow = FLOWS["riser-to-tube"]
    answer = finished(flow, walk(flow, sensible))
    key = answer["transition"]["assemblies"][0]["key"]
    assert flow.pick(answer, key)["parts.joints"]
    assert flow.pick(answer, "no such way") == {}


@pytest.mark.parametrize("name", ["longest-run", "size-line"])
def test_the_drawing_is_plain_svg_and_the_table_says_the_same(name):
    flow = FLOWS[name]
    shaped = finished(flow, walk(flow, sensible))
    blocks = flow.show(shaped)
    at, drawing = next((i, b) for i, b in enumerate(blocks) if isinstance(b, Drawing))
    assert isinstance(blocks[at + 1], Table)
    svg = ElementTree.fromstring(drawing.svg)  # noqa: S314  -- our own markup
    words = [node.text or "" for node in svg.iter() if node.tag.endswith("text")]
    assert any("limit, 5 ft/s" in text for text in words)
    assert any("lowest wanted" in text for text in words)
    far = f"{shaped['profile'][-1]['pressure_psi']:.1f} psi"
    assert far in drawing.words
    assert far in itertools.chain(*blocks[at + 1].rows)
