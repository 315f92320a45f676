"""The engine as a phone uses it, run by this Python: answers, entries, cookies, a folder's base."""

from __future__ import annotations

import json
from urllib.parse import urlencode

import pytest
from support.entries import a_job

from fieldkit.joblog.entry import json_text
from fieldkit.phone.engine import Engine

FORM = {"Content-Type": "application/x-www-form-urlencoded"}


@pytest.fixture(scope="module")
def made():
    return Engine()


@pytest.fixture
def engine(made, tmp_path):
    made.start(str(tmp_path / "log.db"), "s" * 64, "https://x.example/kit/")
    yield made
    made.close()


def test_a_form_gives_its_entries_to_keep_and_a_page_gives_none(engine):
    body = urlencode({"name": "Long Meadow"}).encode()
    answered = engine.answer("POST", "/jobs", FORM, body)
    assert answered.status == 303
    assert [json.loads(one)["kind"] for one in answered.entries] == ["job"]
    where = dict(map(tuple, answered.headers))["Location"]
    assert where.startswith("/kit/job/")
    assert engine.answer("GET", where.removeprefix("/kit"), {}, b"").entries == []


def test_every_link_stays_below_the_base(engine):
    page = engine.answer("GET", "/", {}, b"").body.decode()
    assert 'href="/kit/jobs"' in page
    assert 'href="/jobs"' not in page
    look = urlencode({"light": "sun", "back": "/tables"}).encode()
    answered = engine.answer("POST", "/look", FORM, look)
    assert dict(map(tuple, answered.headers))["Location"] == "/kit/tables"


def test_the_sun_switch_is_kept_for_the_next_start(engine, made, tmp_path):
    engine.answer("POST", "/look", FORM, urlencode({"light": "sun"}).encode())
    kept = engine.cookies()
    engine.close()
    made.start(str(tmp_path / "other.db"), "s" * 64, "https://x.example/kit/", kept)
    assert 'class="sun"' in made.answer("GET", "/", {}, b"").body.decode()


def test_entries_that_are_taken_in_are_not_given_out_again(engine):
    texts = [json_text(one.as_json()) for one in a_job()]
    assert engine.take_in(texts) == len(texts)
    assert engine.take_in([*texts, "{}", '{"id": 3}', "not JSON", '{"later": true}']) == 0
    body = urlencode({"note": "one more"}).encode()
    answered = engine.answer("POST", "/job/job-1/notes", FORM, body)
    assert [json.loads(one)["note"] for one in answered.entries] == ["one more"]


def test_a_stumble_is_a_page_in_plain_words(engine, monkeypatch):
    monkeypatch.setattr("fieldkit.web.pages.home.render_template", lambda *a, **k: 1 / 0)
    answered = engine.answer("GET", "/", {}, b"")
    assert answered.status == 500
    assert b"Something went wrong on our side" in answered.body


def test_the_choice_of_language_and_units_is_kept_for_the_next_start(engine):
    asked = {"Accept-Language": "es-MX;q=1.0"}
    assert b'lang="es"' in engine.answer("GET", "/", asked, b"").body
    form = {**asked, "Content-Type": "application/x-www-form-urlencoded"}
    engine.answer("POST", "/choices", form, b"back=/&language=en&units=metric")
    assert engine.cookies().items() >= {"language": "en", "units": "metric"}.items()
    assert b'lang="en"' in engine.answer("GET", "/", asked, b"").body
