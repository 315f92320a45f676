"""Waits: their end follows from the log's times, stands in words, and survives a reload."""

import re
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from support.entries import NOW, entry

from fieldkit.web import clock

UNTIL = re.compile(r'data-until="([^"]+)"')

#: What the pages of the guided cementing are told, up to the hold, by their first question.
TO_THE_HOLD = {
    "size": {
        "size.value": "1/2",
        "wall.value": "Sch 40",
        "temperature.value": "50 F",
        "sun.value": "no",
        "humidity.value": "60 %",
        "pressure.value": "100 psi",
        "forecast.value-first": "50 F",
        "one_step.value": "two",
        "dry_fit.value": "snug",
    },
    "prime": {},
}


@pytest.fixture
def at(monkeypatch):
    """Sets the clock that stamps entries."""
    now = datetime.fromisoformat("2026-05-01T12:00:00.000+00:00")

    def set_to(seconds: float) -> str:
        text = (now + timedelta(seconds=seconds)).isoformat(timespec="milliseconds")
        monkeypatch.setattr(clock, "now", lambda: text.replace("+00:00", "Z"))
        return text.replace("+00:00", "Z")

    set_to(0)
    return set_to


def to_the_hold(hand):
    """Walk the guided cementing of a new joint up to the hold."""
    start = hand.send(hand.read("/"), "/start", what="new")
    joint = re.search(r"/joint/([^/\"]+)", start.path + start.html)[1]
    page = hand.read(f"/joint/{joint}/join-cement")
    for step, told in TO_THE_HOLD.items():
        assert page.path.endswith(f"/{step}"), page.path
        page = hand.send(page, step, answer="give", **told)
    return joint, page


def test_the_hold_ends_60_s_after_it_was_pushed_home_at_50_f(hand, at):
    _, page = to_the_hold(hand)
    (until,) = UNTIL.findall(page.html)  # entries of one instant go a thousandth apart
    assert until.startswith("2026-05-01T12:01:00.")
    assert re.search(r"Hold until \d\d:01:00", page.words)  # without scripts, in words
    for name, words in (
        ("seconds", "{s} s"),
        ("minutes", "{min} min {s} s"),
        ("hours", "{h} h {min} min"),
    ):  # with them, in the words of the page
        assert f'data-{name}="{words}"' in page.html


def test_a_reload_later_names_the_same_end(hand, at):
    _, page = to_the_hold(hand)
    at(40)
    again = hand.read(page.path)
    assert UNTIL.findall(again.html) == UNTIL.findall(page.html)
    assert 'data-now="2026-05-01T12:00:40.000Z"' in again.html


def test_pushing_it_home_once_more_starts_the_hold_anew(hand, at):
    _, page = to_the_hold(hand)
    at(90)
    again = hand.send(hand.read(page.path.removesuffix("hold") + "push"), answer="give")
    assert again.path.endswith("/hold")
    assert UNTIL.findall(again.html) == ["2026-05-01T12:02:30.000Z"]


def test_set_and_cure_are_waited_for_on_the_answer_the_joint_and_the_job_list(hand):
    joint, page = to_the_hold(hand)
    page = hand.send(page, "hold", answer="give", **{"closed.value": "0 min"})
    assert "Leave it still until" in page.words  # on the page of the next stage
    (set_at,) = UNTIL.findall(page.html)
    on_joint = hand.read(f"/joint/{joint}")
    (ready_at,) = UNTIL.findall(on_joint.html)
    assert "No pressure until" in on_joint.words
    assert set_at < ready_at
    job = hand.read(re.search(r'href="(/job/[^"]+)"', on_joint.html)[1])
    jobs = hand.read("/jobs")
    for page in (job, jobs):
        assert UNTIL.findall(page.html) == [ready_at]
        assert "The cement cures for another" in page.words


def test_a_job_waits_for_the_joint_that_is_ready_last(app, hand):
    made = [entry(0, "job", understood={"name": "North bed", "place": ""})]
    for n, ready_at in enumerate(("2999-01-01T08:00:00Z", "2999-01-02T08:00:00Z", None), start=1):
        joint = {"joint": f"joint-{n}"}
        made.append(entry(n, "joint", **joint, understood={"name": f"Box {n}"}))
        made.append(entry(9 + n, "result", **joint, result={}, facts={"weld.ready_at": ready_at}))
    app.extensions["joblog"].append(made, NOW)
    assert UNTIL.findall(hand.read("/jobs").html) == ["2999-01-02T08:00:00Z"]


def test_the_script_has_no_words_of_its_own():
    script = (Path(__file__).parents[2] / "static" / "timer.js").read_text(encoding="utf-8")
    code = "\n".join(line.partition("//")[0] for line in script.splitlines())
    assert not re.findall(r"""["'`][^"'`\n]*[a-z]+ [^"'`\n]*["'`]""", code)


def test_a_step_whose_wait_has_not_begun_shows_none(hand, at):
    _, page = to_the_hold(hand)
    for step in ("push", "cement"):
        assert "data-until" not in hand.read(page.path.removesuffix("hold") + step).html
