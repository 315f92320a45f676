"""What a lead asks of all joints at once, on the invented month of a crew."""

from __future__ import annotations

from dataclasses import replace

import pytest
from support.entries import entry, tables_of

from fieldkit.cli.demo import load_demo
from fieldkit.cli.demo_month import lines, month_ids
from fieldkit.engine.working import to_json
from fieldkit.flows.catalogue import flows
from fieldkit.flows.outcome import is_to_buy, returned, state_of
from fieldkit.joblog import JobLog, crew
from fieldkit.joblog.crew import Asked, fits, rates, week_of
from fieldkit.joblog.marks import NOT_REPRODUCED, UNFIT, Mark
from fieldkit.joblog.rework import reworked

TODAY = "2026-05-29T15:00:00.000Z"


@pytest.fixture(scope="module")
def month():
    log = JobLog.memory()
    load_demo(log, TODAY)
    yield log
    log.close()


def test_the_month_is_thirty_joints_two_leads_and_five_technicians_and_loads_once(month):
    assert len(lines()) == 30
    assert len({one.tested_by for one in lines()}) == 2
    assert len({one.made_by for one in lines()}) == 5
    assert not month.marks(UNFIT)
    count = month.count()
    load_demo(month, "2026-06-04T09:00:00.000Z")
    assert month.count() == count
    assert {one for one in month_ids() if month.entry(one) is None} == set()


def test_results_of_the_month_follow_from_their_answers(month):
    """Its times are shifted and its ids are new; what each flow came to must still come out."""
    job = next(one for one in month.jobs() if one.name == "Quarry steps")
    done = [
        one for joint in month.joints(job.id) for one in reworked(month, job.id, joint.id, None)
    ]
    assert len(done) > 20
    assert all(one.same for one in done), [one.entry.flow for one in done if not one.same]


def test_the_four_numbers_are_what_the_plan_of_the_month_makes(month):
    """Counted by hand from ``month.csv``: which joints were left as what."""
    week = week_of(*month.crew(), Asked(now=TODAY))
    names = {joint.id: joint.name for job in month.jobs() for joint in month.joints(job.id)}
    behind = {what: {names[one.joint] for one in of} for what, of in week.behind.items()}
    assert behind["leaks"] == {"Valve box F", "Row 5", "Stair 2", "Riser by the path"}
    assert behind["untested"] == {"Valve box D", "Stair 3", "Stair 5"}
    assert behind["to_buy"] == {"Stair 6", "Stair 7"}
    assert behind["waived"] == {"Valve box D", "Valve box F"}
    assert {one.who for of in week.waived.values() for one in of} <= {"Mara Quill", "Jon Abbey"}


def test_filters_narrow_and_tell_what_lies_before_the_period(month):
    joints, signed = month.crew()
    week = week_of(joints, signed, Asked(now=TODAY, since="2026-05-22"))
    assert len(week.behind["leaks"]) + week.older["leaks"] == 4
    assert week.older["leaks"] == 2, "valve box F, and the riser of an older job"
    by_ben = Asked(now=TODAY, person="Ben Carrow")
    assert sum(fits(one, by_ben) for one in joints) == 7
    assert not any(fits(one, Asked(now=TODAY, place="nowhere")) for one in joints)
    welds = Asked(now=TODAY, cause="insufficient_cure")
    assert {one.failed_kind for one in joints if fits(one, welds)} == {"solvent_socket"}


def test_what_came_back_counts_as_the_plan_of_the_month_has_it(month):
    joints, _ = month.crew()
    (whole,) = rates(joints, "all")
    came = {
        "thread, mended": 2,
        "weld, mended": 2,
        "thread leaks": 1,
        "nut let go": 1,
        "3-riser": 1,
    }
    assert whole.share.found == sum(came.values()) + 1, "and the riser of the other demo job"
    cold = {one.name: one.share for one in rates(joints, "heat")}
    assert cold["1"].found == 2, "both welds that failed were glued between 40 and 60 °F"
    assert cold["2"].found == cold["3"].found == 0
    ben = next(one for one in rates(joints, "person") if one.name == "Ben Carrow")
    assert (ben.share.found, ben.share.of) == (4, 5)


def test_a_joint_that_was_made_anew_failed_as_it_was_first_made():
    cold = {"weld.made_at": "2026-01-01T08:00:00Z", "weld.temperature_f": 38.0}
    story = [
        ("Ann", cold),
        ("Bo", {"test.verdict": "leaks"}),
        ("Bo", {"leak.cause": "no_primer", "leak.joint": "solvent_socket", "test.verdict": None}),
        ("Cy", {"weld.made_at": "2026-01-02T08:00:00Z", "weld.temperature_f": 70.0}),
        ("Bo", {"test.verdict": "holds"}),
    ]
    held = returned(story)
    assert (held.failed, held.heat_f, held.made_by, held.cause) == (True, 38.0, "Ann", "no_primer")
    assert not held.opened, "nobody has said what it really was"
    assert returned([*story, ("Bo", {"leak.really": "wrong_pipe_in_socket"})]).opened
    sound = {"leak.cause": "water_from_elsewhere", "leak.really": "water_from_elsewhere"}
    assert not returned([("Ann", cold), ("Bo", sound)]).failed


@pytest.mark.parametrize(
    ("facts", "state"),
    [
        ({}, "begun"),
        ({"thread.verdict": "too_tight"}, "leaks"),
        ({"test.verdict": "repeat", "thread.verdict": "ok"}, "untested"),
        ({"leak.cause": "no_primer"}, "leaks"),
        ({"leak.cause": "no_primer", "leak.mended_at": "2026-01-01T08:00:00Z"}, "untested"),
        ({"leak.cause": "no_primer", "test.verdict": "holds"}, "holds"),
        ({"leak.cause": "water_from_elsewhere"}, "begun"),
        ({"site.stop": "gas", "test.verdict": "holds"}, "leaks"),
        ({"pipe.other_kind": "gas"}, "leaks"),
    ],
)
def test_where_a_joint_stands(facts, state):
    assert state_of(facts) == state


def test_what_is_chosen_is_to_buy_until_something_is_made_of_it():
    chosen = {"parts.assembly": {"parts": []}, "weld.made_at": "2026-01-01T08:00:00Z"}
    assert is_to_buy(chosen, {"parts.assembly": "2026-01-02", "weld.made_at": "2026-01-01"})
    assert not is_to_buy(chosen, {"parts.assembly": "2026-01-01", "weld.made_at": "2026-01-02"})


def test_a_struck_failure_does_not_count_whatever_the_order():
    rows = []
    at = {"job": "job-1", "joint": "j", "flow": "prove", "run": "r"}
    made = [
        entry(1, "result", **at, facts={"thread.verdict": "ok"}, who="Ann"),
        entry(2, "result", **at, facts={"leak.cause": "no_primer"}),
        entry(3, "strike", **at, facts={"leak.cause": None}),
    ]
    for order in (made, made[::-1]):
        with JobLog.memory() as log:
            log.append(order, TODAY)
            with log.reading() as conn:
                rows.append(crew.all_joints(conn))
    assert rows[0] == rows[1]
    assert not rows[0][0].failed


def test_a_joint_whose_result_was_not_reproduced_neither_holds_nor_counts():
    """Marked, unmarked, and made anew by a later result; rebuilt read models say the same."""
    where = {"job": "job-1", "joint": "j", "flow": "prove"}
    holds = {"thread.verdict": "ok", "test.verdict": "holds", "leak.really": "no_primer"}
    with JobLog.memory() as log:

        def stands() -> tuple[object, ...]:
            ((one,), _) = log.crew()
            week = week_of([one], [], Asked(now=TODAY))
            untested, made = len(week.behind["untested"]), len(rates([one], "all"))
            before = tables_of(log)["crew"]
            log.rebuild()
            assert tables_of(log)["crew"] == before
            return one.state, untested, made, log.counted("job-1", "")["found"]

        sent = entry(1, "result", **where, run="r", result={"verdict": "holds"}, facts=holds)
        log.append([sent], TODAY)
        trusted = ("holds", 0, 1, {"no_primer": 1})
        assert stands() == trusted
        log.mark([Mark(sent.id, "job-1", NOT_REPRODUCED, {})])
        assert stands() == ("untested", 1, 0, {})
        log.unmark(NOT_REPRODUCED, [sent.id])
        assert stands() == trusted
        log.mark([Mark(sent.id, "job-1", NOT_REPRODUCED, {})])
        log.append([replace(sent, id=entry(2).id, at=TODAY, run="s")], TODAY)
        assert stands() == trusted, "said again by a result that holds"


def test_the_log_teaches_the_diagnosis_what_became_of_such_joints(month):
    """Counted by hand from ``month.csv`` and the other demo jobs; the joint itself is left out."""
    job = next(one for one in month.jobs() if one.name == "Quarry steps")
    leaking = next(one for one in month.joints(job.id) if one.name == "Stair 2")
    counted = month.counted(job.id, leaking.id)
    assert counted["found"] == {
        "sealant_missing": 2,
        "insufficient_cure": 2,
        "collar_not_locked": 1,
    }
    assert counted["kinds"]["npt_thread"] == {"made": 25, "came_back": 2}
    assert month.counted("no such job", "")["found"] == {}, "invented jobs teach no others"


def test_a_kept_diagnosis_comes_out_again_although_the_log_grew(month):
    """It keeps the counts that it was worked out from."""
    job = next(one for one in month.jobs() if one.name == "Quarry steps")
    leaking = next(one for one in month.joints(job.id) if one.name == "Stair 2")
    flow = flows()["failed-test"]
    run = month.run(leaking.states["failed-test"].run, job.id, leaking.id, "failed-test")
    counted = {**month.counted(job.id, leaking.id), "on": "phone"}
    facts = {name: one for name, one in leaking.facts.items() if not name.startswith("leak.")}
    known = {**facts, "history": counted["found"], "counted": counted}
    result = flow.work_out(run.answers, known).as_json()
    assert result["here"][0] == "Of 25 joints of this kind in the log on this phone, 2 came back."
    assert result["here"][1].startswith("Of 5 failures found out there, ")
    assert [block.title for block in flow.blocks(result)].count("What the log knows of such joints")
    kept = replace(
        run.last_result,
        id=entry().id,
        result=result,
        facts=to_json(flow.learn(run.answers, result)),
    )
    with JobLog.memory() as log:
        before = [one.entry for one in run.entries if one.entry.kind != "result"]
        opened = month.history(job_id=job.id, joint_id=leaking.id, limit=1000)
        earlier = [one.entry for one in opened if one.entry.at < before[0].at]
        log.append([*earlier, *before, kept], TODAY)
        (again,) = reworked(log, job.id, leaking.id, frozenset([kept.id]))
        assert again.same, "this log knows none of the other joints"
    forged = replace(kept, id=entry().id, result={**result, "counted": {**counted, "found": {}}})
    with JobLog.memory() as log:
        log.append([*earlier, *before, forged], TODAY)
        (again,) = reworked(log, job.id, leaking.id, frozenset([forged.id]))
        assert not again.same


def test_no_save_and_no_joint_takes_longer_for_what_others_sent_that_was_not_reproduced(log):
    """Counted in SQLite's own steps, which no load of the machine changes."""
    log.append([entry(n, "joint", joint="k") for n in range(2)], TODAY)
    ticks = []
    with log.reading() as conn:  # it is the one that is lent again
        conn.set_progress_handler(lambda: ticks.append(1), 10)

    def steps(n):
        ticks.clear()
        made = entry(n, "pick", joint="k", facts={"pipe.nominal": "1/2"})
        log.append([made], TODAY)
        log.mark([Mark(made.id, "job-1", NOT_REPRODUCED, {})])
        assert log.joint("k").doubted
        assert log.joints("job-1")[0].doubted
        return len(ticks)

    steps(3)
    before = steps(4)
    log.mark([Mark(entry(n).id, "job-1", NOT_REPRODUCED, {}) for n in range(10_000, 14_000)])
    assert 0 < steps(5) < 1.3 * before
