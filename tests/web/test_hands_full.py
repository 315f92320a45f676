"""Cement talked through, and a test that runs: what the pages hold for the scripts, and without."""

import re

from fieldkit.joblog import Entry
from fieldkit.web import clock
from fieldkit.web.ids import fresh_id

TODAY = {
    "size.value": "1/2",
    "wall.value": "Sch 40",
    "sun.value": "no",
    "temperature.value": "50 F",
    "humidity.value": "60 %",
    "pressure.value": "60 psi",
    "one_step.value": "two",
    "dry_fit.value": "snug",
}


#: A row of polyethylene pressure pipe.
PE_PIPE = "pe-cts-0500-sdr9"


def new_joint(hand):
    page = hand.send(hand.read("/"), "/start", what="new")
    return re.search(r"/joint/([^/\"]+)", page.path + page.html)[1]


def test_the_acts_of_cementing_stand_as_a_list_and_know_their_seconds(hand):
    page = hand.read(f"/joint/{new_joint(hand)}/join-cement")
    assert "talk.js" not in page.html  # getting the ends ready needs no haste
    page = hand.send(page, answer="give", **TODAY)
    acts = re.findall(r'act__one" data-question="join-cement.(\w+)"([^>]*)>', page.html)
    # Within 20 s: what the page itself says of the push; nothing else is hurried.
    assert acts == [("prime", ""), ("cement", ""), ("push", ' data-within="20"')]
    assert "Close it within 20 s" in page.words
    assert re.search(r'talk__start" type="button" hidden>Talk me through it', page.html)
    assert '<dialog class="talk"' in page.html
    page = hand.send(page, answer="give")
    assert re.search(r'act__one" data-question="join-cement.hold" data-waits="60"', page.html)
    assert re.search(r'class="timer" data-until="20', page.html)


def teach(app, joint, **facts):
    log = app.extensions["joblog"]
    found, now = log.joint(joint), clock.now()
    named = {name.replace("__", "."): value for name, value in facts.items()}
    log.append(
        [
            Entry(
                id=fresh_id(),
                at=now,
                job=found.job,
                joint=joint,
                kind="result",
                flow="plan-test",
                run=fresh_id(),
                understood={},
                result={},
                facts=named,
            )
        ],
        received=now,
    )


def to_gauge(hand, joint):
    page = hand.read(f"/joint/{joint}/prove")
    while 'value="add"' not in page.html:
        page = hand.send(page, answer="cant-tell")
    return page


def test_a_test_that_runs_shows_its_pressure_its_band_and_its_end(hand, app):
    joint = new_joint(hand)
    teach(
        app, joint, test__pressure_psi=60.9, test__hold_minutes=60.0, test__gauge_division_psi=2.0
    )
    page = to_gauge(hand, joint)
    assert 'class="timer"' not in page.html  # before the first reading nothing runs
    page = hand.send(page, answer="add", **{"value-pressure": "59 psi"})
    assert "Hold at, never above60 psi" in page.words  # a limit is rounded down
    assert "Look for water below57.0 psi" in page.words  # one mark of this gauge
    until = re.search(r'class="timer" data-until="([^"]+)" data-now="([^"]+)"', page.html)
    assert until[1][11:13] != until[2][11:13]  # an hour on
    assert "The hold is over at" in page.words
    assert re.search(r'timer__awake" type="button" aria-pressed="false" hidden', page.html)


def test_polyethylene_pressure_pipe_may_lose_the_share_of_its_standard(hand, app):
    joint = new_joint(hand)
    teach(app, joint, test__pressure_psi=100.0, test__hold_minutes=60.0, tube__id=PE_PIPE)
    page = hand.send(to_gauge(hand, joint), answer="add", **{"value-pressure": "100 psi"})
    assert "Look for water below95.0 psi" in page.words  # ASTM F2164: 5 %


def test_without_a_plan_nothing_counts_down(hand):
    joint = new_joint(hand)
    page = hand.send(to_gauge(hand, joint), answer="add", **{"value-pressure": "60 psi"})
    assert 'class="timer"' not in page.html


def test_a_wrong_reading_is_struck_out_and_no_longer_counts(hand, app):
    joint = new_joint(hand)
    page = hand.send(to_gauge(hand, joint), answer="add", **{"value-pressure": "900 psi"})
    struck = re.search(r'name="strike" value="([^"]+)"', page.html)[1]
    entries = app.extensions["joblog"].count()
    page = hand.send(page, strike=struck)
    assert "900" not in page.words.split("Gauge", 1)[1]
    assert app.extensions["joblog"].count() == entries + 1  # the reading is still in the log
    hand.send(page, strike=struck)
    assert app.extensions["joblog"].count() == entries + 1
    assert "A reading was struck out" in hand.read(f"/joint/{joint}").words
