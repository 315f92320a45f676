"""Clocks that are wrong: what is corrected counts as later, and when it arrived is said."""

from __future__ import annotations

import io

import pytest
from pypdf import PdfReader
from support.entries import entry

from fieldkit.joblog import utc_text
from fieldkit.joblog.acceptance import Rules, take_in
from fieldkit.joblog.entry import just_after
from fieldkit.joblog.marks import BROUGHT_IN, Mark
from fieldkit.web import clock

DAY_MS = 24 * 3_600_000


@pytest.fixture
def at(monkeypatch):
    """Set the server's clock."""

    def set_to(ms: int) -> None:
        monkeypatch.setattr(clock, "now_ms", lambda: ms)

    return set_to


@pytest.fixture
def tool(hand):
    """The first question of a joint, at the server's true time."""
    return hand.send(hand.read("/"), "/start", what="tube")


def run_of(app, page):
    log, (_, _, joint, flow, run, *_) = app.extensions["joblog"], page.path.split("/")
    return log.run(run, log.joint(joint).job, joint, flow)


def test_a_correction_counts_after_the_clock_was_set_back(app, hand, tool, at):
    now = clock.now_ms()
    hand.answer(tool, "caliper")
    at(now - DAY_MS)
    hand.answer(tool, "strip")
    assert run_of(app, tool).answers["tool"] == "strip"
    made = [one.entry.at for one in run_of(app, tool).entries]
    assert made == sorted(made)
    assert len(set(made)) == len(made)


def test_a_correction_in_the_same_instant_counts(app, hand, tool, at):
    """Two programs, or a clock that stands still: which id is the larger one decides nothing."""
    at(clock.now_ms())
    for one in ("caliper", "strip", "caliper", "strip", "caliper", "strip"):
        hand.answer(tool, one)
        assert run_of(app, tool).answers["tool"] == one


def test_a_correction_counts_over_a_phone_whose_clock_is_ahead(app, hand, tool, at):
    log, now = app.extensions["joblog"], clock.now_ms()
    joint = log.joint(tool.path.split("/")[2])
    where = {"job": joint.job, "joint": joint.id}
    ahead = entry(0, "rename", **where, understood={"name": "wrong"}, at=utc_text(now + 290_000))
    assert take_in(log, [ahead.as_json()], Rules(), utc_text(now)).stored
    at(now + 1000)
    hand.answer(tool, "strip")
    last = log.history(joint_id=joint.id, limit=1)[0].entry
    assert (last.kind, last.at) == ("answer", just_after(ahead.at))


def test_more_than_five_minutes_ahead_is_refused_and_said(app):
    log, now = app.extensions["joblog"], clock.now_ms()
    made = entry(0, at=utc_text(now + 301_000))
    ((_, problem),) = take_in(log, [made.as_json()], Rules(), utc_text(now)).refused
    assert "clock of the device was ahead" in problem.wrong
    assert "Set the clock right" in problem.instead


def test_a_signature_comes_after_what_it_signs(app, hand, tool, at):
    log, now = app.extensions["joblog"], clock.now_ms()
    hand.answer(tool, "caliper")
    job = log.joint(tool.path.split("/")[2]).job
    at(now - DAY_MS)
    page = hand.read(f"/job/{job}/sign")
    _, fields = page.form("/sign")
    reasons = {name: "Seen" for name in fields if name.startswith("waive-")}
    assert "Seal holds" in hand.send(page, "/sign", name="Ann", **reasons).words
    entries = [one.entry for one in log.since(0)]
    assert max(entries, key=lambda one: one.at).kind == "signature"


def test_pages_and_records_say_when_it_arrived_where_that_differs(app, hand):
    log = app.extensions["joblog"]
    opened = entry(0, "job", understood={"name": "North bed"})
    soon = entry(60, note="Box is dry")
    late = entry(120, note="Box is wet")
    log.append([opened, soon], utc_text(1_777_644_180_000 + 60_000))
    log.append([late], utc_text(1_777_644_180_000 + 8 * 3_600_000))
    words = hand.read("/job/job-1").words
    assert words.count("arrived") == 1
    assert "arrived" in words.split("Box is wet")[1][:120]
    assert hand.read("/job/job-1/record").words.count("arrived") == 0  # its notes carry no time
    joint = {"joint": "k"}
    log.append([entry(200, "joint", **joint, understood={"name": "Box"})], late.at)
    log.append([entry(201, **joint, note="Late")], utc_text(1_777_644_180_000 + 9 * 3_600_000))
    assert "(arrived" in hand.read("/job/job-1/record").words
    tested = entry(202, "result", **joint, flow="prove", run="r", result={"verdict": "holds"},
                   facts={"test.verdict": "holds"})  # fmt: skip
    log.append([tested], utc_text(1_777_644_180_000 + 9 * 3_600_000))
    glances = hand.read("/job/job-1/record").html.split('class="glances"')[1].split("</ul>")[0]
    assert "(arrived" in glances, "also on the first page, where somebody else looks"
    assert "From a file" not in glances
    log.mark([Mark(tested.id, "job-1", BROUGHT_IN, {"from": "file"})])
    assert "From a file" in hand.read("/job/job-1/record").words.split("The full record")[0]
    paper = PdfReader(io.BytesIO(hand.client.get("/job/job-1/record.letter.pdf").data))
    said = " ".join(page.extract_text() for page in paper.pages)
    assert "(arrived" in said.split("The full record")[0]
    assert "From a file" in said.split("The full record")[0]
    assert f"{log.head().size}:{log.head().root[:20]}" in said.replace("\n", "")
