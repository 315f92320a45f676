"""The lists of jobs and of what a search finds: a page at a time, open and finished ones apart."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from support.entries import NOW, entry

INDEXES = ("jobs_by_state", "joints_that_cure", "joints_found_out")


@pytest.fixture
def log(app):
    return app.extensions["joblog"]


def names_on(page):
    """The jobs of a page, in order."""
    rows = page.document.iter("{http://www.w3.org/1999/xhtml}span")
    return [one.text for one in rows if one.get("class") == "row__name"]


def more_of(page):
    """Where the next page is, or nothing."""
    links = page.document.iter("{http://www.w3.org/1999/xhtml}a")
    return next((one.get("href") for one in links if one.text == "More of them"), None)


def all_pages(hand, path):
    """What each page lists, in order."""
    found = []
    while path is not None:
        page = hand.read(path)
        found.append(names_on(page))
        path = more_of(page)
    return found


def test_each_job_stands_on_one_page_once(hand, log):
    made = [entry(n, "job", job=f"job-{n}", understood={"name": f"Bed {n}"}) for n in range(120)]
    log.append(made, NOW)
    pages = all_pages(hand, "/jobs")
    assert [len(one) for one in pages] == [50, 50, 20]
    assert sum(pages, []) == [f"Bed {n}" for n in reversed(range(120))]  # noqa: RUF017


def test_each_find_stands_on_one_page_once(hand, log):
    made = [entry(n, "job", job=f"job-{n}", understood={"name": f"Wet {n}"}) for n in range(101)]
    log.append(made, NOW)
    first = hand.read("/jobs?q=wet")
    assert first.document.findtext(".//{*}h2").startswith("50 or more found")
    pages = all_pages(hand, "/jobs?q=wet")
    assert [len(one) for one in pages] == [50, 50, 1]
    assert len({name for one in pages for name in one}) == 101


def test_a_job_of_many_joints_shows_the_last_and_leads_to_the_others(hand, log):
    log.append([entry(0, "job", understood={"name": "Long Meadow"})], NOW)
    made = [
        entry(1 + n, "joint", joint=f"j-{n}", understood={"name": f"Box {n}"}) for n in range(120)
    ]
    moved = entry(200, "close", joint="j-3", typed={"moved_to": ["elsewhere"]})
    log.append([*made, moved, entry(201, joint="j-0", note="Looked at")], NOW)
    path, seen = "/job/job-1", []
    while path is not None:
        page = hand.read(path)
        assert page.html.count('class="meter"') == 50
        seen = [one for one in names_on(page) if one.startswith("Box ")] + seen
        links = page.document.iter("{http://www.w3.org/1999/xhtml}a")
        path = next((a.get("href") for a in links if a.text == "Joints before these"), None)
    assert list(dict.fromkeys(seen)) == [f"Box {n}" for n in range(120) if n != 3]
    assert "Joints after these" in page.words
    assert "Box 0" in hand.read("/job/job-1").words, "what happened last, at a joint further up"
    assert hand.read("/job/job-1?from=-9").words == hand.read("/job/job-1?from=0").words
    assert "Box 119" in hand.read(f"/job/job-1?from={10**30}").words
    log.append([entry(300, "pick", joint="j-10", facts={"pipe.nominal": "1/2"})], NOW)
    further_up = hand.read("/job/job-1?from=0")
    assert 'value="Box 120"' in further_up.html, "no name that a joint on another page has"


def test_a_finished_job_is_kept_apart_and_can_be_opened_again(hand, log):
    log.append([entry(0, "job", understood={"name": "North bed"})], NOW)
    page = hand.send(hand.read("/job/job-1"), "/close")
    assert "finished" in page.words
    assert names_on(hand.read("/jobs")) == []
    assert names_on(hand.read("/jobs?finished=1")) == ["North bed"]
    assert "North bed" not in hand.read("/").words
    assert names_on(hand.read("/jobs?q=north")) == ["North bed"]
    hand.send(page, "/close")
    assert names_on(hand.read("/jobs")) == ["North bed"]
    assert [one.entry.kind for one in log.history(job_id="job-1")] == ["close", "close", "job"]


def test_the_joint_that_is_ready_last_is_named(hand, log):
    ready = [
        (datetime.now(UTC) + timedelta(hours=hours)).strftime("%Y-%m-%dT%H:%M:%S.000Z")
        for hours in (-5, 3, 7, 9)
    ]
    facts = [{"weld.ready_at": one} for one in ready]
    facts[3]["test.verdict"] = "tight"  # that one waits for nothing
    made = [entry(0, "job", understood={"name": "North bed"})]
    made += [entry(1 + n, "result", joint=f"joint-{n}", facts=one) for n, one in enumerate(facts)]
    log.append(made, NOW)
    assert "7 h" in hand.read("/jobs").words


@pytest.mark.parametrize(
    "query",
    ["after=x", "after=x+y", "before=-9", "before=9999999999999999999999&q=a", "finished=2"],
)
def test_an_address_that_was_made_up_lists_something(hand, query):
    assert hand.read(f"/jobs?{query}").status == 200


def test_lists_are_read_along_an_index(log):
    """SQLite's own account of how it looks: no scan, and no sort of more than a day."""
    asked = {
        "jobs": lambda: log.jobs(closed=True),
        "curing": lambda: log.curing("job-1", NOW),
        "knowing": lambda: log.joints_knowing("leak.really"),
    }
    said = []
    with log.reading() as conn:
        conn.set_trace_callback(said.append)
    for ask in asked.values():
        ask()
    with log.reading() as conn:
        conn.set_trace_callback(None)
        looked = [one for one in said if one.startswith("SELECT *")]
        assert len(looked) == 3
        for statement in looked:
            if True:
                plan = " ".join(row[3] for row in conn.execute(f"EXPLAIN QUERY PLAN {statement}"))
                assert (
                    "jobs_by_state" in plan
                    or "joints_that_cure" in plan
                    or ("joints_found_out" in plan)
                ), (statement, plan)
