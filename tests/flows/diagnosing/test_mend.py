"""The repair track: from a cause to its fix, the joint made anew, and the proof."""

from __future__ import annotations

import pytest

from fieldkit.flows.catalogue import flows
from fieldkit.flows.checklist import next_of, standing
from fieldkit.flows.diagnosing.mend import _BEFORE, MEND_FLOW, parts_needed, remake_flow
from fieldkit.tables.diagnosis import causes

NOW = "2026-05-18T15:00:00.000Z"


def walked(facts):
    """Each page of the flow with all of it done, and what the joint knows afterwards."""
    facts, given, pages = {**facts, "now": NOW}, {}, []
    while (step := MEND_FLOW.next_step(given, facts)) is not None:
        page = MEND_FLOW.page(step, given, facts)
        pages.append([one.ask for one in page])
        given |= {one.id: True for one in page}
    answer = MEND_FLOW.work_out(given, facts).as_json()
    assert MEND_FLOW.show(answer)
    learned = facts | MEND_FLOW.learn(given, answer)
    return pages, answer, {name: value for name, value in learned.items() if value is not None}


def goes_on_with(facts):
    return next_of(standing(facts)).stage.flow


@pytest.mark.parametrize("cause", causes())
def test_each_cause_is_mended_on_one_page_and_ends_in_a_proof_or_a_joint_made_anew(cause):
    pages, answer, after = walked({"leak.cause": cause, "leak.joint": "barb"})
    row = causes()[cause]
    kept = _BEFORE.get(cause, range(len(row.fix_steps)))
    assert pages == [[row.fix_steps[place] for place in kept]]
    assert after["leak.mended_at"] == NOW
    if cause == "water_from_elsewhere":
        assert answer["verdict"] == "elsewhere"
    elif answer["remake"]:
        assert goes_on_with(after) == answer["remake"]
    else:
        assert goes_on_with(after) == (
            "plan-test" if answer["remake"] == "join-cement" else "prove"
        )


def test_every_caution_of_a_cause_stands_at_one_of_its_steps():
    for cause, row in causes().items():
        steps = [step for step in MEND_FLOW.steps if step.id.startswith(f"{cause}-")]
        assert sorted(one for step in steps for one in step.caution) == sorted(row.cautions)


def test_a_weld_that_is_cut_out_cures_no_longer():
    made = {"parts.joints": ["solvent_socket"], "weld.made_at": NOW, "weld.ready_at": NOW}
    _, _, after = walked({**made, "leak.cause": "no_primer", "test.verdict": "leaks"})
    assert not {"weld.made_at", "weld.ready_at", "test.verdict"} & set(after)


def test_what_the_person_says_it_was_is_mended_rather_than_what_was_likely():
    pages, answer, _ = walked({"leak.cause": "no_primer", "leak.really": "side_load"})
    assert answer["cause"] == "side_load"
    assert pages == [list(causes()["side_load"].fix_steps)]


def test_something_else_is_asked_and_nobody_knowing_makes_it_all_anew():
    facts = {"leak.cause": "no_primer", "leak.really": "something_else", "leak.joint": "ring"}
    assert MEND_FLOW.next_step({}, facts).id == "cause"
    given = {"cause": None}
    step = MEND_FLOW.next_step(given, facts)
    page = MEND_FLOW.page(step, given, facts)
    assert [one.id for one in page] == ["anew-0", "anew-1"]
    assert remake_flow(None, facts) == "join-tube"
    told = MEND_FLOW.work_out(given | {one.id: True for one in page}, facts)
    assert told.verdict == "make_anew"
    said = {"cause": "side_load"}
    assert MEND_FLOW.next_step(said, facts).id == "side_load-0"
    assert (
        MEND_FLOW.learn(said, {"cause": "side_load", "remake": "", "mended_at": NOW})["leak.really"]
        == "side_load"
    )


def test_parts_come_with_the_sizes_that_they_must_fit():
    facts = {"tube.od_in": 0.708, "tube.bore_in": 0.618, "pipe.nominal": "3/4"}
    told = " ".join(parts_needed(causes()["barb_no_clamp"], facts))
    assert "stainless clamps" in told
    assert "0.708 in" in told
    assert "0.618 in" in told


def test_a_test_that_leaks_asks_why_then_mends_then_tests_again():
    facts = {"parts.assembly": {"parts": []}, "parts.joints": ["npt"], "test.pressure_psi": 60.0,
             "test.verdict": "leaks"}  # fmt: skip
    assert goes_on_with(facts) == "failed-test"
    facts |= {"leak.cause": "side_load", "leak.joint": "npt_thread"}
    assert goes_on_with(facts) == "mend"
    _, _, after = walked(facts)
    after |= {"pipe.od_in": 1.05, "pipe.nominal": "3/4", "tube.od_in": 0.7, "tube.id": "x",
              "thread.verdict": "ok"}  # fmt: skip
    assert goes_on_with(after) == "prove"
    after["test.verdict"] = "leaks"  # it still leaks: another cause
    assert goes_on_with(after) == "failed-test"
    after["test.verdict"] = "holds"
    assert next_of(standing(after)) is None


def test_a_diagnosis_voids_what_was_known_of_an_earlier_leak_and_leads_to_the_mend():
    flow = flows()["popped-off"]
    learned = flow.learn({}, {"causes": [{"id": "side_load", "probability": 0.5}], "joint": "barb"})
    assert learned["leak.mended_at"] is learned["leak.really"] is learned["test.verdict"] is None
    assert flow.onward({}, {}).flow == "mend"
