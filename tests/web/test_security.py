"""What holds from the first day: headers, token, cookies, limits, escaping, secret."""

from __future__ import annotations

import stat

import pytest
from support.hand import Hand

from fieldkit.app import make_app
from fieldkit.web.secret import secret_beside

EXPECTED = {
    "Content-Security-Policy": (
        "default-src 'none'; script-src 'self' 'wasm-unsafe-eval'; style-src 'self'; "
        "img-src 'self' blob:; font-src 'self'; connect-src 'self'; worker-src 'self'; "
        "manifest-src 'self'; "
        "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}


@pytest.mark.parametrize(
    "path", ["/", "/jobs", "/nothing", "/api/", "/static/zone.js", "/static/icon.svg"]
)
def test_every_answer_carries_the_headers(hand, path):
    with hand.client.get(path) as response:
        for name, value in EXPECTED.items():
            assert response.headers[name] == value
        assert not [name for name, _ in response.headers if name.startswith("Access-Control")]


def test_a_style_sheet_is_no_document(hand):
    with hand.client.get("/static/page.css") as response:
        assert {name for name in EXPECTED if name in response.headers} == {
            "X-Content-Type-Options",
            "Referrer-Policy",
            "Cross-Origin-Resource-Policy",
        }


@pytest.mark.parametrize("path", ["/jobs", "/start", "/look", "/prices", "/jobs/import"])
def test_a_form_without_its_token_is_refused(hand, path):
    response = hand.client.post(path, data={"name": "x"})
    assert response.status_code == 400
    assert "open too long" in response.get_data(as_text=True)


def test_an_answer_without_its_token_keeps_what_was_typed(hand):
    start = hand.read("/")
    question = hand.send(start, "/start", what="tube")
    action, fields = question.form()
    response = hand.client.post(action, data={**fields, "csrf_token": "x", "value": "caliper"})
    page = response.get_data(as_text=True)
    assert response.status_code == 422
    assert "This page was open too long" in page


def test_the_session_cookie_is_not_for_scripts_or_other_sites(hand):
    cookie = hand.client.get("/").headers["Set-Cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=Lax" in cookie


def test_a_name_is_shown_as_text_never_as_markup(hand):
    name = "<script>alert(1)</script>"
    page = hand.send(hand.read("/jobs"), "/jobs", name=name)
    assert page.heading == name
    assert "<script>alert" not in page.html


def test_the_secret_is_made_once_and_only_its_owner_can_read_it(tmp_path):
    db_path = tmp_path / "log.db"
    first = secret_beside(db_path)
    assert len(first) == 64
    assert secret_beside(db_path) == first
    assert stat.S_IMODE((tmp_path / "log.secret").stat().st_mode) == 0o600
    assert secret_beside(tmp_path / "other.db") != first


def test_a_page_too_large_is_refused_plainly(hand):
    start = hand.read("/jobs")
    action, fields = start.form("/jobs")
    response = hand.client.post(action, data={**fields, "name": "x" * 2_000_000})
    assert response.status_code == 413


def test_two_copies_do_not_share_their_loose_job(tmp_path):
    loose = set()
    for name in ("a", "b"):
        app = make_app(tmp_path / f"{name}.db", testing=True)
        loose.add(app.config["LOOSE_JOB"])
        Hand(app.test_client()).read("/")
        app.extensions["joblog"].close()
    assert len(loose) == 2


@pytest.mark.parametrize("path", ["/jobs/import", "/api/identify", "/look"])
def test_a_wrong_method_is_told_which_one_works(hand, path):
    """RFC 9110, 15.5.6: a 405 must say which methods the address takes."""
    response = hand.client.get(path)
    assert response.status_code == 405
    assert "POST" in response.headers["Allow"]
