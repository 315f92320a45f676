"""The three ways into the diagnosis, walked question by question, and what the log knows."""

from __future__ import annotations

import re

import pytest

from fieldkit.engine.diagnosing.next_question import MOST_QUESTIONS
from fieldkit.engine.problems import Problem
from fieldkit.flows.calculations import calculate
from fieldkit.flows.catalogue import flows
from fieldkit.flows.checklist import next_of, standing
from fieldkit.flows.diagnosing.questions import FLOWS, PLACE, outcomes
from fieldkit.flows.diagnosing.request import from_facts
from fieldkit.flows.question import Choice, Group, Quantity
from fieldkit.tables.cautions import cautions
from fieldkit.tables.diagnosis import causes, questions
from fieldkit.tables.fittings import fit_windows
from fieldkit.web.pages.api_examples import EXAMPLES

BY_ID = {flow.id: flow for flow in FLOWS}
CHECKLIST_FLOWS = flows()


def walk(flow, answers, facts=None):
    """Answer what is asked from ``answers``; anything else is "can't tell"."""
    facts = facts or {}
    given: dict[str, object] = {}
    while (step := flow.next_step(given, facts)) is not None:
        assert step.id not in given
        given[step.id] = answers.get(step.id)
    return given, flow.work_out(given, facts)


@pytest.mark.parametrize("flow", FLOWS, ids=lambda flow: flow.id)
def test_it_is_made_safe_first_and_ends_when_nobody_can_tell_anything(flow):
    looks = {"place": None} if flow.id == "leak-now" else {}  # seen while it still leaks
    first = flow.next_step(looks, {})
    assert first.id == "safe"
    assert "stand_clear" in first.caution
    given, found = walk(flow, {"safe": "shut"})
    assert len(given) <= MOST_QUESTIONS + 1  # and the making safe
    assert found.verdict == "not_settled"
    assert len(found.checks) == 3


# ── What stops the work ──────────────────────────────────────────────────────────────────────

#: Works that a stop must not lead to (failures.md, section 5: shut, drained and proved dead first).
ACTS = re.compile(r"\b(cut|glue|cement|unscrew|undo|loosen|tighten|push|dig)\b", re.I)


@pytest.mark.parametrize("flow", FLOWS, ids=lambda flow: flow.id)
@pytest.mark.parametrize("answer", [None, "wires", "house", "gas"])
def test_a_stop_word_ends_the_flow_with_whom_to_call_and_no_work(flow, answer):
    given, found = walk(flow, {"safe": answer})
    assert list(given)[-1] == "safe"  # nothing is asked after it
    shown = flow.blocks(found.as_json())
    assert [block.title for block in shown] == ["What to do now", "Whom to call"]
    assert shown[-1].lines
    told = " ".join([found.headline, *found.do, *found.call])
    assert not ACTS.search(told), told
    learned = flow.learn(given, found.as_json())
    assert learned == {"site.stop": found.stop}
    stage = CHECKLIST_FLOWS["join-tube"]
    assert stage.next_step({}, learned) is None
    with pytest.raises(Problem, match="Stop"):
        stage.work_out({}, learned)
    assert next_of(standing(learned)) is None


def test_a_stop_is_taken_away_by_answering_anew():
    flow = BY_ID["popped-off"]
    assert flow.next_step({}, {"site.stop": "cannot_shut_off"}).id == "safe"
    given, found = walk(flow, {"safe": "shut"}, {"site.stop": "cannot_shut_off"})
    assert flow.learn(given, found.as_json())["site.stop"] is None


def test_who_cannot_shut_it_off_is_told_where_the_shut_off_is():
    _, found = walk(BY_ID["popped-off"], {"safe": None})
    told = " ".join(found.do)
    assert "main valve where the water enters the house" in told
    assert "out of line with the pipe" in found.do[0]
    assert "meter" in " ".join(found.call)


def test_water_comes_on_only_over_capped_ends_and_hot_water_scalds():
    """What each act asks of hands stands at that act: section 5 of the trade notes."""
    for question in questions().values():
        step = BY_ID["popped-off"].step(question.id)
        assert ("cap_first" in step.caution) == question.water_on
    assert questions()["static_psi"].water_on
    for row in causes().values():
        words = " ".join((row.check, *row.fix_steps)).casefold()
        if re.search(r"pressurize low|low pressure|water on\b", words):
            assert "cap_first" in row.cautions, row.id
        if "hot water" in words:
            assert "scald" in words, row.id
    assert "scald" in cautions()["warm_water"].text
    warm = CHECKLIST_FLOWS["join-tube"].step("warm")
    assert "warm_water" in warm.caution


def test_nobody_holds_a_joint_that_is_under_pressure():
    """Push at 60 psi on 1 in pipe is 52 lbf (p·π·d²/4): no hand in line with it."""
    check = causes()["side_load"].check.casefold()
    assert "hold it" not in check
    assert check.index("water off") < check.index("stand clear") < check.index("water on")


# ── The questions ────────────────────────────────────────────────────────────────────────────


def test_the_first_drop_is_asked_while_it_still_leaks():
    flow = BY_ID["leak-now"]
    given, _ = walk(flow, {"place": "thread", "safe": "shut"})
    assert list(given)[:2] == ["place", "safe"]
    assert "drain" not in " ".join(str(one) for one in (PLACE.ask, PLACE.hint, PLACE.why))


@pytest.mark.parametrize("flow", FLOWS, ids=lambda flow: flow.id)
def test_every_question_has_a_way_out_and_plain_options(flow):
    for step in flow.steps:
        assert step.way_out
        if isinstance(step.kind, Choice):
            assert all(option.label for option in step.kind.options)
        else:
            assert isinstance(step.kind, Quantity | Group)


def test_a_homeowner_with_a_popped_ring_is_told_of_the_size():
    answers = {
        "safe": "shut",
        "fitting_type": "ring",
        "push_effort": "slid_on",
        "when_first": "first_fill",
        "od_gap_in": -0.02,
    }
    _, found = walk(BY_ID["popped-off"], answers)
    assert found.causes[0].id == "ring_od_mismatch"
    assert found.runner_up.id != found.causes[0].id


def test_a_technician_at_a_weeping_thread_is_told_of_the_missing_sealant():
    answers = {"safe": "shut", "place": "thread", "thread_sealant": "none", "crack_seen": "none"}
    given, found = walk(BY_ID["leak-now"], answers)
    assert found.causes[0].id == "sealant_missing"
    assert "fitting_type" not in given  # the place on the joint said it
    assert "leak_place" not in given


def test_the_answer_may_be_wanted_at_once():
    flow = BY_ID["leak-now"]
    given = {"safe": "shut", "place": "barb", "enough": True}
    assert flow.next_step(given, {}) is None
    assert flow.work_out(given, {}).causes


def test_what_the_log_knows_is_evidence_and_is_not_asked():
    facts = {
        "parts.joints": ["solvent_socket", "ring"],
        "tube.od_in": 0.68,
        "tube.u_od_in": 0.004,
        "site.pressure_psi": 40.0,
    }
    given, found = walk(BY_ID["popped-off"], {"safe": "shut", "fitting_type": "ring"}, facts)
    known = {one["question"] for one in found.because if one["from_job"]}
    assert "static_psi" in known
    assert "static_psi" not in given
    struck = {name: value for name, value in facts.items() if name != "site.pressure_psi"}
    _, without = walk(BY_ID["popped-off"], {"safe": "shut", "fitting_type": "ring"}, struck)
    assert "static_psi" not in {one["question"] for one in without.because if one["from_job"]}


@pytest.mark.parametrize(
    ("joint", "size", "facts", "gap"),
    [
        ("ring", "0.700", {"tube.od_in": 0.68}, "od_gap_in"),
        ("barb", "0.600", {"tube.bore_in": 0.64}, "id_gap_in"),
    ],
)
def test_a_measured_mismatch_is_evidence_and_is_not_asked(joint, size, facts, gap):
    """Windows of fit_windows.csv: a ring takes −0.008 to +0.006 in of its mark (CP)."""
    known = {"parts.joints": ["solvent_socket", joint], "fitting_size": size, **facts}
    told = from_facts(known)  # nobody has said yet which joint of the two it is
    assert gap in told.given
    given, found = walk(BY_ID["popped-off"], {"safe": "shut", "fitting_type": joint}, known)
    assert gap not in given
    assert gap in {one["question"] for one in found.because if one["from_job"]}
    wanted = {"ring": "ring_od_mismatch", "barb": "barb_too_small"}[joint]
    assert wanted in {found.causes[0].id, *(one.id for one in found.also)}


def test_a_size_that_fits_does_not_say_which_joint_it_is():
    told = from_facts(
        {"parts.joints": ["solvent_socket", "ring"], "fitting_size": "0.700", "tube.od_in": 0.701}
    )
    assert "od_gap_in" not in told.given


def test_what_a_locking_nut_does_not_go_by_is_not_asked():
    """A locking nut is sold by the outside it takes (CP): what its bore is says nothing there."""
    window = next(w for w in fit_windows().values() if w.end_kind == "collar")
    assert window.measure == "OD"
    told = from_facts({"fitting_size": window.size, "tube.od_in": window.low_in}, "collar")
    assert "id_gap_in" in told.closed
    assert "od_gap_in" in told.given


def test_nobody_is_asked_for_a_difference_where_the_tube_was_measured():
    flow = BY_ID["popped-off"]
    facts = {"tube.od_in": 0.68, "tube.u_od_in": 0.004}
    answers = {"safe": "shut", "fitting_type": "ring", "fitting_size": 0.7}
    given, found = walk(flow, answers, facts)
    assert "od_gap_in" not in given
    assert "fitting_size" in given
    assert found.causes[0].id == "ring_od_mismatch"
    given, _ = walk(flow, {**answers, "fitting_size": None}, facts)
    assert "od_gap_in" not in given  # nothing to read on it: asked once, not twice


def test_the_history_of_the_company_moves_the_first_guess():
    flow = BY_ID["popped-off"]
    given = {"safe": "shut", "fitting_type": "solvent_socket", "enough": True}
    usual = flow.work_out(given, {})
    ours = flow.work_out(given, {"history": {"weld_not_seated": 80}})
    assert usual.causes[0].id != "weld_not_seated"
    assert ours.causes[0].id == "weld_not_seated"


@pytest.mark.parametrize("place", [option.value for option in PLACE.kind.options])
def test_what_nobody_told_is_no_evidence(place):
    found = BY_ID["leak-now"].work_out({"safe": "shut", "place": place}, {})
    assert {one["question"] for one in found.because} <= {"fitting_type", "leak_place"}


def test_parts_to_remake_it_fit_this_joint():
    facts = {"pipe.nominal": "1/2", "tube.od_in": 0.68, "tube.bore_in": 0.58}
    answers = {"safe": "shut", "fitting_type": "ring", "od_gap_in": -0.02}
    _, found = walk(BY_ID["popped-off"], answers, facts)
    assert found.remake
    assert not any("0.700" in part and "ring" in part for part in found.remake)


def test_changing_an_earlier_answer_finds_its_question_again():
    flow = BY_ID["leak-now"]
    for step in flow.steps:
        assert flow.step(step.id) is step


def test_every_cause_can_be_said_to_be_the_real_one():
    _, found = walk(BY_ID["popped-off"], {"safe": "shut"})
    shown = flow_cards(BY_ID["popped-off"].show(found.as_json()))
    for pick in shown:
        assert BY_ID["popped-off"].pick(found.as_json(), pick) == {"leak.really": pick}
    assert shown[-1] == "something_else"
    assert set(shown[:-1]) <= set(causes())


def flow_cards(blocks):
    return [card.pick for block in blocks if hasattr(block, "cards") for card in block.cards]


def test_only_confirmed_guesses_are_counted():
    table = outcomes(
        [
            {"leak.cause": "no_primer", "leak.really": "no_primer"},
            {"leak.cause": "no_primer", "leak.really": "weld_not_seated"},
            {"leak.cause": "no_primer"},
        ]
    )
    assert table.rows[-1] == ("All", "2", "1", "50%")


def test_what_is_screwed_into_what_is_not_asked_where_the_parts_tell():
    ways = calculate("transition", EXAMPLES["transition"]["end"]).as_json()["assemblies"]
    one = next(way for way in ways if any(joint["kind"] == "npt" for joint in way["joints"]))
    facts = {"parts.assembly": one, "parts.joints": [joint["kind"] for joint in one["joints"]]}
    assert from_facts(facts, "npt_thread").given["thread_parts"] == "moulded_pair"
    assert "thread_parts" not in from_facts(facts, "barb").given
    riser = calculate("transition", EXAMPLES["transition"]["from_a_thread"]).as_json()
    facts = {"parts.assembly": riser["assemblies"][0], "parts.joints": ["npt"]}
    assert "thread_parts" not in from_facts(facts, "npt_thread").given
