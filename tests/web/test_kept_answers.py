"""A kept answer is shown as it was kept; what the log learned since stands beside it."""

from __future__ import annotations

import pytest

from fieldkit.flows.catalogue import flows
from fieldkit.joblog import Entry
from fieldkit.joblog.entry import just_after
from fieldkit.web import clock, flow_run
from fieldkit.web.ids import fresh_id

GIVEN = {"kind": "ring", "pressure": 30.0, "shut": True, "cut": True, "mark": True, "warm": True,
         "push_in": True, "tug": "holds"}  # fmt: skip


@pytest.fixture
def kept(app, hand):
    """A ring put on at 30 psi, kept: the address of its answer, and how to learn a fact."""
    start = hand.send(hand.read("/"), "/start", what="new")
    joint, log, run = start.path.split("/")[2], app.extensions["joblog"], fresh_id()
    job = log.joint(joint).job

    def add(**parts) -> None:
        now = just_after(log.in_turn(job, clock.now()))  # two of one instant have no order
        made = Entry(id=fresh_id(), at=now, job=job, joint=joint, **parts)
        assert not log.append([made], clock.now()).refused

    for step, value in GIVEN.items():
        add(kind="answer", flow="join-tube", run=run, step=step, understood=value)
    result = flows()["join-tube"].work_out(GIVEN, {}).as_json()
    assert result["verdict"] == "ok"
    add(kind="result", flow="join-tube", run=run, result=result, understood=GIVEN)

    def learn(**facts) -> None:
        named = {name.replace("__", "."): value for name, value in facts.items()}
        add(kind="result", flow="hold", run=fresh_id(), facts=named,
            result={"verdict": "holds", "headline": "It holds."})  # fmt: skip

    return f"/joint/{joint}/join-tube/{run}/answer", learn


def test_it_is_read_and_not_worked_out_again(kept, hand, monkeypatch):
    address, _ = kept

    def never(self):
        raise AssertionError("a kept answer was worked out again")

    monkeypatch.setattr(flow_run.Passage, "work_out", never)
    assert "To the stop inside" in hand.read(address).words


def test_what_is_newer_is_an_offer_beside_it(kept, hand):
    address, learn = kept
    learn(site__temperature_f=140.0)  # a ring's 50 psi, times 0.22 by PPFA 3-96: 11 psi
    page = hand.read(address)
    assert page.status == 200
    assert "To the stop inside" in page.words
    assert "With that it would be: Too much pressure for this end" in page.words
    taken = hand.send(page, "/answer")
    assert taken.heading.startswith("Too much") or "Too much pressure" in taken.words
    assert "learned more" not in taken.words


def test_a_fact_that_changes_nothing_is_no_offer(kept, hand):
    address, learn = kept
    learn(site__temperature_f=70.0)
    assert "learned more" not in hand.read(address).words


def test_where_nothing_can_be_worked_out_any_more_it_still_stands(kept, hand):
    address, learn = kept
    learn(site__temperature_f=200.0)  # hotter than any rating
    page = hand.read(address)
    assert page.status == 200
    assert "To the stop inside" in page.words
    assert "With that it could not be worked out" in page.words


def test_a_stop_is_shown_before_what_was_kept(kept, hand):
    address, learn = kept
    learn(pipe__other_kind="gas")
    page = hand.read(address)
    assert page.status == 422
    assert "Stop work" in page.words
