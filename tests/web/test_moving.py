"""Another name for a job or a joint, and a joint in another job: all as entries."""

from __future__ import annotations

import json

import pytest
from support.entries import NOW, entry, tables_of

from fieldkit.cli.demo import load_demo
from fieldkit.engine.problems import Problem
from fieldkit.joblog import JobLog, exchange
from fieldkit.joblog.acceptance import acceptable, rules_for
from fieldkit.joblog.entry import just_after
from fieldkit.joblog.integrity import drifted
from fieldkit.joblog.marks import BROUGHT_IN, NOT_REPRODUCED, Mark
from fieldkit.joblog.rework import reworked
from fieldkit.joblog.signing import all_entries, check


@pytest.fixture
def moved(app, hand):
    """The riser's joint, moved to a new job through its page."""
    log = app.extensions["joblog"]
    load_demo(log)
    page = hand.send(hand.read("/jobs"), "/jobs", name="Right job", place="East")
    to = page.path.rsplit("/", 1)[1]
    job = next(one for one in log.jobs() if "Quarry Lane" in one.name)
    joint = log.joints(job.id)[0]
    before = hand.read(f"/joint/{joint.id}")
    after = hand.send(before, "/move", to=to)
    return log, job, log.job(to), joint, after


def test_a_moved_joint_stands_in_the_other_job_with_all_that_is_known(moved, hand):
    log, job, to, joint, page = moved
    (there,) = log.joints(to.id)
    assert page.path == f"/joint/{there.id}", "the old address leads to the new place"
    assert there.id != joint.id
    assert there.name == joint.name
    assert dict(there.facts) == dict(joint.facts)
    assert {f: s.headline for f, s in there.states.items()} == {
        f: s.headline for f, s in joint.states.items()
    }
    assert [one.id for one in log.joints(job.id)] == []
    assert (log.job(job.id).joints, to.joints) == (0, 1)
    assert [one.id for one in log.joints(job.id, moved=True)] == [joint.id]
    joints, _ = log.crew()
    assert joint.id not in {one.joint for one in joints}
    assert f"Moved here from {job.name}" in page.words
    results = list(reworked(log, to.id, there.id, None))
    assert len(results) >= len(joint.states)
    assert all(one.same for one in results), [one.entry.flow for one in results if not one.same]
    assert "Riser by the path" in hand.read(f"/job/{to.id}/record").words


def test_what_comes_to_the_old_place_later_is_not_lost(moved, hand):
    log, job, _, joint, page = moved
    assert "Something was added" not in page.words
    last = log.job(job.id).last_at
    late = entry(kind="note", job=job.id, joint=joint.id, note="From a phone without signal")
    log.append([type(late)(**{**late.as_json(), "at": just_after(last)})], NOW)
    assert "Something was added" in hand.read(f"/joint/{joint.id}").words
    old = hand.read(f"/joint/{joint.id}?here=1")
    assert "From a phone without signal" in old.words
    assert "It stands in another job now" in old.words


def test_moving_changes_no_entry_and_any_order_ends_the_same(moved):
    log, job, to, *_ = moved
    assert all(one.whole for name in (job.id, to.id) for one in check(all_entries(log, name)))
    assert drifted(log) == ()
    entries = list(exchange.entries_of(log, ""))
    with JobLog.memory() as other:
        other.append(entries[::-1], NOW)
        assert tables_of(other)["jobs"] == tables_of(log)["jobs"]
        assert tables_of(other)["joints"] == tables_of(log)["joints"]
        assert tables_of(other)["crew"] == tables_of(log)["crew"]


def test_a_move_takes_doubts_along_counts_once_and_reads_names_as_names(app, hand):
    """A joint and a run may be called like a field of an entry, or like a flow."""
    log = app.extensions["joblog"]
    where = {"job": "job-1", "joint": "understood", "run": "measure-pipe", "flow": "measure-pipe"}
    log.append(
        [
            entry(0, "job", understood={"name": "Wrong job"}),
            entry(1, "job", job="job-2", understood={"name": "Right job"}),
            entry(2, "joint", job="job-1", joint="understood", understood={"name": "Riser"}),
            made := entry(3, "result", **where, result={"verdict": "x", "headline": "It is ½ in."},
                          facts={"test.verdict": "holds", "thread.verdict": "ok"}),
        ],
        NOW,
    )  # fmt: skip
    said = {NOT_REPRODUCED: {}, BROUGHT_IN: {"by": "Ann", "from": "file"}}
    log.mark([Mark(made.id, "job-1", mark, about) for mark, about in said.items()])
    hand.send(hand.read("/joint/understood"), "/move", to="job-2")
    (there,) = log.joints("job-2")
    assert there.states["measure-pipe"].headline == "It is ½ in."
    assert "measure-pipe" in there.doubted
    (copy,) = [one.entry for one in log.history(job_id="job-2") if one.entry.kind == "result"]
    assert {one.mark: one.said for one in log.marks_on(copy.id)} == said
    ((counted,), _) = log.crew()
    assert (counted.job, counted.state, counted.doubted) == ("job-2", "untested", 1)
    assert drifted(log) == ()


def test_only_a_lead_sends_a_move():
    sent = entry(kind="close", joint="j", typed={"moved_to": ["k"]}, who="Bo")
    acceptable(sent, rules_for("Ann", lead=True), NOW)
    with pytest.raises(Problem, match="not yours"):
        acceptable(sent, rules_for("Bo", lead=False), NOW)


def test_a_job_and_a_joint_get_another_name(app, hand):
    log = app.extensions["joblog"]
    load_demo(log)
    job = next(one for one in log.jobs() if "Quarry Lane" in one.name)
    page = hand.send(hand.read(f"/job/{job.id}"), "/rename", job_name="Quarry Lane 7", place="Back")
    assert page.heading == "Quarry Lane 7"
    assert "Back" in page.words
    wrong = hand.send(page, "/rename", job_name=" ")
    assert wrong.status == 422
    assert "Give the job a name." in wrong.words
    joint = log.joints(job.id)[0]
    renamed = hand.send(hand.read(f"/joint/{joint.id}"), "/rename", name="Riser 2")
    assert renamed.heading == "Riser 2"
    assert hand.send(renamed, "/rename", name="").status == 422
    assert json.loads(exchange.export_json(log, job.id))["entries"][-1]["kind"] == "rename"
