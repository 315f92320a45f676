"""The plain pages: first page, jobs, joints, tables, prices; each inspected as it is read."""

from __future__ import annotations

import pytest

from fieldkit.flows.reference import SHEETS


def make_joint(hand, name="Bed 2, north end"):
    jobs = hand.read("/jobs")
    job = hand.send(jobs, "/jobs", name="Long Meadow", place="behind the shed")
    assert job.heading == "Long Meadow"
    return hand.send(job, "/joints", name=name)


@pytest.mark.parametrize("path", ["/", "/jobs", "/tables", "/sources", "/prices"])
def test_a_page_is_there_and_sound(hand, path):
    assert hand.read(path).status == 200


@pytest.mark.parametrize("sheet", SHEETS)
def test_each_pocket_table_is_there_with_its_sources(hand, sheet):
    page = hand.read(f"/tables/{sheet}")
    assert page.status == 200
    assert "Where these numbers come from" in page.words


def test_a_job_and_a_joint_are_made_once_however_often_they_are_sent(hand):
    jobs = hand.read("/jobs")
    hand.send(jobs, "/jobs", name="Long Meadow")
    again = hand.send(jobs, "/jobs", name="Long Meadow")
    assert again.heading == "Long Meadow"
    assert hand.read("/jobs").words.count("Long Meadow") == 1
    hand.send(again, "/joints", name="Bed 1")
    page = hand.send(again, "/joints", name="Bed 1")
    assert page.heading == "Bed 1"
    assert "1 joint " in hand.read("/jobs").words


def test_an_empty_name_is_said_beside_its_box_and_keeps_the_rest(hand):
    page = hand.send(hand.read("/jobs"), "/jobs", name="  ", place="behind the shed")
    assert page.status == 422
    assert "This box is empty. Give the job a name." in page.words
    assert 'value="behind the shed"' in page.html
    assert "something needs fixing" in page.html


def test_a_note_is_kept_and_found(hand):
    joint = make_joint(hand)
    page = hand.send(joint, "/notes", note="Valve box is full of roots")
    assert "Valve box is full of roots" in page.words
    found = hand.read("/jobs?q=roots")
    assert "1 found" in found.words


def test_what_is_not_there_is_said_in_plain_words(hand):
    for path in ("/nothing", "/job/none", "/joint/none", "/tables/none", "/joint/x/measure-tube"):
        page = hand.read(path)
        assert page.status == 404
        assert page.heading == "There is nothing at this address"


def test_the_sun_switch_works_without_scripts_and_stays_on_the_page(hand):
    page = hand.read("/tables")
    action, fields = next((a, f) for a, f, _ in page.forms() if a.endswith("/look"))
    back = hand.client.post(action, data={**fields, "light": "sun"}, follow_redirects=True)
    assert back.request.path == "/tables"
    assert '<html lang="en" class="sun">' in back.get_data(as_text=True)


@pytest.mark.parametrize(
    "back", ["//elsewhere.example", "https://elsewhere.example/", "/\\elsewhere", "javascript:x"]
)
def test_the_sun_switch_sends_nobody_to_another_site(hand, back):
    action, fields = next((a, f) for a, f, _ in hand.read("/").forms() if a.endswith("/look"))
    response = hand.client.post(action, data={**fields, "back": back, "light": "sun"})
    assert response.status_code == 303
    assert response.headers["Location"] == "/"
