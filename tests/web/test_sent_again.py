"""One page sent again and again: once for the same, anew for something else, never lost."""

from __future__ import annotations

import pytest


@pytest.fixture
def tool(hand):
    """The question what to measure with, as the browser may keep it."""
    return hand.send(hand.read("/"), "/start", what="tube")


def run_at(app, page):
    """The run that a page of a question belongs to."""
    _, _, joint, flow, run, *_ = page.path.split("/")
    log = app.extensions["joblog"]
    return log.run(run, log.joint(joint).job, joint, flow)


def answers_of(app, page):
    """What is stored for the run of this page: every answer, oldest first, and the one in force."""
    run = run_at(app, page)
    said = [one.entry.understood for one in run.entries if one.entry.kind == "answer"]
    return said, run.answers["tool"]


def test_a_mind_changed_and_changed_back_from_one_page_is_kept(app, hand, tool):
    for value in ("caliper", "strip", "caliper"):
        hand.answer(tool, value)
        assert answers_of(app, tool)[1] == value
    assert answers_of(app, tool)[0] == ["caliper", "strip", "caliper"]


def test_each_of_them_tapped_twice_is_stored_once(app, hand, tool):
    for value in ("caliper", "caliper", "strip", "strip", "caliper", "caliper"):
        hand.answer(tool, value)
    assert answers_of(app, tool) == (["caliper", "strip", "caliper"], "caliper")


def test_a_second_note_from_one_page_is_a_second_note(hand):
    job = hand.send(hand.read("/jobs"), "/jobs", name="Long Meadow")
    for note in ("Roots in the box", "Roots in the box", "Valve leaks, too"):
        hand.send(job, "/notes", note=note)
    words = hand.read(job.path).words
    assert words.count("Note: Roots in the box") == 1
    assert words.count("Note: Valve leaks, too") == 1


def test_a_second_job_and_joint_from_one_page_are_made(hand):
    jobs = hand.read("/jobs")
    first = hand.send(jobs, "/jobs", name="Long Meadow")
    second = hand.send(jobs, "/jobs", name="Short Meadow")
    assert (first.heading, second.heading) == ("Long Meadow", "Short Meadow")
    assert first.path != second.path
    assert hand.send(jobs, "/jobs", name="Short Meadow").path == second.path
    assert hand.send(second, "/joints", name="Bed 1").heading == "Bed 1"
    other = hand.send(second, "/joints", name="Bed 2")
    assert other.heading == "Bed 2"
    assert "2 of" not in hand.read(first.path).words


def test_a_reading_tapped_twice_is_one_reading(app, hand):
    start = hand.send(hand.read("/"), "/start", what="new")
    joint = start.path.split("/")[2]
    page = hand.read(f"/joint/{joint}/prove")
    while not page.path.endswith(("readings", "pressures")):
        last = page.path
        answer = {"thermometer": "no"}.get(page.path.rsplit("/", 1)[1])
        page = hand.answer(page, answer) if answer else hand.send(page, answer="cant-tell")
        assert page.path != last
    boxes = {key: "30" for _, fields, _ in page.forms() for key in fields if key[:6] == "value-"}
    for _ in range(2):
        again = hand.send(page, answer="add", **boxes)
        assert again.status == 200
    run = run_at(app, page)
    assert sum(one.entry.kind == "reading" for one in run.entries) == 1


def test_striking_out_twice_ends_on_the_joint(hand):
    page = hand.send(hand.read("/"), "/start", what="tube")
    joint = page.path.split("/")[2]
    page = hand.answer(page, "caliper")
    page = hand.send(page, answer="give", **{f"value-{n}": "0.700" for n in range(4)})
    while not page.path.endswith("/answer"):
        page = hand.send(page, answer="cant-tell")
    page = hand.read(f"/joint/{joint}")
    for _ in range(2):
        struck = hand.send(page, "/strike")
        assert struck.status == 200
        assert struck.path == f"/joint/{joint}"
