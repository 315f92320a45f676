"""The demo: what is shipped is what the scenarios make today, and it says that it is invented."""

from __future__ import annotations

import json
import re

import pytest
from support.entries import NOW
from support.make_demo import DEMO_JOBS, scenarios
from support.scenario import play
from support.screens import screens

from fieldkit.cli.demo import demo_price_list, load_demo
from fieldkit.flows.catalogue import flows
from fieldkit.joblog import Entry, JobLog
from fieldkit.tables.cautions import cautions
from fieldkit.tables.diagnosis import causes, options, questions
from fieldkit.tables.fittings import fittings, joints


@pytest.mark.parametrize("path", scenarios(), ids=lambda path: path.stem)
def test_a_demo_job_is_what_its_scenario_makes(path):
    """When this fails after a wanted change: ``python tests/support/make_demo.py``."""
    assert json.loads(play(path)) == json.loads((DEMO_JOBS / path.name).read_text("utf-8"))


def test_the_demo_loads_once_and_is_marked(tmp_path):
    with JobLog.open(tmp_path / "log.db") as log:
        assert "3 invented jobs" in load_demo(log)
        count = log.count()
        assert "0 entries added" in load_demo(log)
        assert log.count() == count
        assert all(job.demo for job in log.jobs())
        assert log.prices().illustrative


def test_a_list_of_the_users_own_is_left_in_force(tmp_path):
    own = Entry(
        id=demo_price_list().id.replace("019b", "0190"),
        at="2025-06-01T00:00:00.000Z",
        job="",
        kind="prices",
        understood={"tee_0500": 3.0},
    )
    with JobLog.open(tmp_path / "log.db") as log:
        log.append([own], NOW)
        load_demo(log)
        assert log.prices().prices == {"tee_0500": 3.0}
        assert not log.prices().illustrative


def test_the_demo_shows_a_joint_that_holds_one_that_leaks_and_one_to_practise_on(tmp_path):
    with JobLog.open(tmp_path / "log.db") as log:
        load_demo(log)
        joints = [joint for job in log.jobs() for joint in log.joints(job.id)]
    verdicts = [joint.facts.get("test.verdict") for joint in joints]
    assert {"holds", "leaks", None} == set(verdicts)
    assert [joint.facts for joint in joints if "practice" in joint.name] == [{}]
    assert "ring_od_mismatch" in [joint.facts.get("leak.cause") for joint in joints]


def test_invented_prices_say_so_wherever_they_show(app, hand):
    log = app.extensions["joblog"]
    load_demo(log)
    job = next(job for job in log.jobs() if "new beds" in job.name)
    joint = log.joints(job.id)[0]
    answer = hand.read(f"/joint/{joint.id}/choose/{joint.states['choose'].run}/answer")
    assert "Prices are illustrative and invented" in answer.words
    assert "$" in answer.words
    prices = hand.read("/prices")
    assert "Invented prices" in prices.words
    saved = hand.send(prices, "/prices", tee_0500="1.10")
    assert "Invented prices" not in saved.words
    assert log.prices().prices == {"tee_0500": 1.10}
    history = hand.read("/prices/history")
    assert "$1.10, new" in history.words
    assert "taken out" not in history.words, "the invented prices were never one's own"


def test_no_page_of_the_demo_says_an_id(app, hand):
    """What a table calls a thing by is for programs: people read its name."""
    log = app.extensions["joblog"]
    paths = [one.path for one in screens(log)]
    for job in log.jobs():
        paths.append(f"/job/{job.id}/record")
        for joint in log.joints(job.id):
            paths.append(f"/joint/{joint.id}")
            paths += [f"/joint/{joint.id}/{f}/{s.run}/answer" for f, s in joint.states.items()]
    tables = (causes(), fittings(), joints(), questions(), options(), flows(), cautions())
    ids = {one for table in tables for one in table if "_" in one}
    said = {}
    for path in dict.fromkeys(paths):
        html = re.sub(r"(?s)<script.*?</script>|<[^>]*>", " ", hand.read(path).html)
        said |= dict.fromkeys(ids & set(re.findall(r"\w+", html)), path)
    assert len(paths) > 100
    assert not said
