"""A result is worked out again on arrival: what does not come out the same says so everywhere."""

from __future__ import annotations

import copy
from dataclasses import replace

import pytest
from support.entries import NOW

from fieldkit.cli.demo import load_demo
from fieldkit.joblog import JobLog, acceptance, new_id, rework
from fieldkit.joblog.acceptance import rules_for
from fieldkit.joblog.marks import NOT_REPRODUCED
from fieldkit.joblog.rework import alike, reworked
from fieldkit.joblog.signing import points

LATER = "2026-12-01T00:00:00.000Z"


@pytest.fixture(scope="module")
def entries():
    """The demo's entries, made by the pages, in the order in which they were made."""
    with JobLog.memory() as log:
        load_demo(log)
        return [one.entry for one in log.since(0, 10_000)]


def doubted(log):
    return {one.entry for one in log.marks(NOT_REPRODUCED)}


def sent(log, entries):
    """As a lead's phone sends them."""
    return acceptance.take_in(
        log, [one.as_json() for one in entries], rules_for("", lead=True), LATER
    )


def test_what_the_pages_made_comes_out_again(log, entries):
    assert not sent(log, entries).refused
    assert doubted(log) == set()


def test_in_any_lots_too(log, entries):
    for n in range(0, len(entries), 37):
        sent(log, entries[n : n + 37])
    assert doubted(log) == set()


def changed(entry, what):
    body = copy.deepcopy(entry.as_json())
    if what == "a figure":
        body["result"]["test_pressure_psi"] *= 2
    elif what == "the verdict":
        body["result"]["verdict"] = "override"
    elif what == "the sentence":
        body["result"]["headline"] = "Test it at 500 psi."
    elif what == "a fact":
        body["facts"]["test.pressure_psi"] *= 2
    else:
        body["understood"] = {**body["understood"], "joints": ["npt"]}
    return replace(entry, **body)


@pytest.mark.parametrize(
    "what", ["a figure", "the verdict", "the sentence", "a fact", "the answers"]
)
def test_a_result_changed_on_its_way_says_so(log, entries, what):
    plan = next(one for one in entries if one.kind == "result" and one.flow == "plan-test")
    lie = changed(plan, what)
    assert not sent(log, [lie if one == plan else one for one in entries]).refused
    assert doubted(log) == {plan.id}
    joint = log.joint(plan.joint, plan.job)
    assert {"plan-test", "test.pressure_psi"} <= joint.doubted
    point = {one.id: one for one in points(joint, NOW)}["reproduced"]
    assert (point.met, point.flow) == (False, "plan-test")


def test_a_pick_that_teaches_more_than_its_result_says_so(log, entries):
    picked = next(one for one in entries if one.kind == "pick" and "parts.holds_psi" in one.facts)
    lie = replace(picked, facts={**picked.facts, "parts.holds_psi": 900.0})
    sent(log, [lie if one == picked else one for one in entries])
    assert picked.id in doubted(log)


def test_a_result_of_nothing_says_so(log, entries):
    """Facts that follow from no answers at all."""
    joint = next(one for one in entries if one.kind == "joint")
    made = replace(
        next(one for one in entries if one.kind == "result" and one.flow == "measure-pipe"),
        id=new_id(1_790_000_000_000, bytes(10)), run="r-none", job=joint.job, joint=joint.joint,
        at="2026-09-21T14:13:20.000Z",
    )  # fmt: skip
    sent(log, [*entries, made])
    assert doubted(log) == {made.id}


def test_what_is_worked_out_again_says_what_comes_now(log, entries):
    plan = next(one for one in entries if one.kind == "result" and one.flow == "plan-test")
    log.append([changed(plan, "the sentence") if one == plan else one for one in entries], NOW)
    found = {one.entry.id: one for one in reworked(log, plan.job, plan.joint, None)}
    assert not found[plan.id].same
    assert found[plan.id].now == plan.result["headline"]


def test_a_joint_that_one_phone_filled_is_not_read_through_for_each_result(
    log, entries, monkeypatch
):
    """Ten thousand answers there made twenty results take 5 s; what is far back is not read."""
    plan = next(one for one in entries if one.kind == "result" and one.flow == "plan-test")
    sent(log, [one for one in entries if one != plan])
    after = replace(plan, id=new_id(1_790_000_000_000, bytes(10)), kind="note", result=None,
                    understood=None, facts={}, note="again")  # fmt: skip
    notes = [replace(after, id=new_id(1_790_000_000_000 + n, bytes(10))) for n in range(40)]
    sent(log, notes)
    monkeypatch.setattr(rework, "_MOST", 20)
    sent(log, [plan])
    assert plan.id in doubted(log), "it rests on answers that were not read: say so"


def test_the_last_bit_of_another_machine_is_no_lie():
    assert alike({"a": [1.0, "1.25 in"]}, {"a": [1.0 + 1e-10, "1.25 in"]})
    assert alike("0.12 psi", "0.13 psi")
    assert not alike("12 of 13", "13 of 13")
    assert not alike({"a": 1}, {"a": 1, "b": 2})
    assert not alike([1], [1, 2])
