"""What every route keeps to: tokens, safe reading, plain errors, no caches, no odd methods."""

from __future__ import annotations

import pytest
from support.entries import NOW, a_job
from support.hand import Hand
from web.security.test_roles import routes

from fieldkit.app import make_app
from fieldkit.web.passwords import LONGEST, hash_password, is_right

#: No session, no cookie, nothing stored: a calculation for anyone who may ask.
PURE = {"api.answer"}


@pytest.fixture
def job(app):
    """The application's log with a small job in it."""
    log = app.extensions["joblog"]
    log.append(a_job(), NOW)
    return log


def test_no_form_is_taken_without_its_token(app, job):
    """OWASP ASVS 5.0, 3.5.1: on every route that takes a form, not on a few."""
    client, before, tried = app.test_client(), job.count(), 0
    for endpoint, method, path in routes(app):
        if method == "POST" and endpoint not in PURE:
            response = client.post(path, data={"name": "x", "note": "x", "value": "x"})
            # 303 from an address that asks nothing: back to the question that stands.
            assert response.status_code in {303, 400, 404, 422}, (path, response.status_code)
            tried += 1
    assert tried > 20
    assert job.count() == before


def test_reading_changes_nothing(app, job):
    """OWASP ASVS 5.0, 3.5.3: what is only asked for leaves the log as it was."""
    client, before = app.test_client(), job.count()
    for _, method, path in routes(app):
        if method == "GET":
            with client.get(path, follow_redirects=True) as response:
                assert response.status_code < 500
    assert job.count() == before


def test_every_answer_says_what_it_is_and_whether_it_may_be_kept(app, job):
    """OWASP ASVS 5.0, 4.1.1 and 14.3.2."""
    client = app.test_client()
    for endpoint, method, path in routes(app):
        if method != "GET":
            continue
        with client.get(path) as response:
            if response.status_code != 200:
                continue
            kind = response.headers["Content-Type"]
            if kind.startswith("text/"):
                assert "charset=utf-8" in kind.lower(), (path, kind)
            kept = response.headers["Cache-Control"]
            shared_by_all = endpoint in {"static"} or endpoint.startswith(("phone", "api"))
            assert "no-store" in kept or shared_by_all or "private" in kept, (path, kept)


@pytest.mark.parametrize("method", ["TRACE", "TRACK", "CONNECT", "DEBUG"])
def test_no_method_but_those_of_the_pages(hand, method):
    """OWASP ASVS 5.0, 13.4.4."""
    assert hand.client.open("/jobs", method=method).status_code == 405


@pytest.mark.parametrize(
    "path", ["/static/", "/static/phone/", "/static/../pyproject.toml", "/.git/config",
             "/static/%2e%2e/%2e%2e/pyproject.toml", "/static/..%2f..%2fpyproject.toml"]
)  # fmt: skip
def test_no_listing_and_no_source(hand, path):
    """OWASP ASVS 5.0, 5.3.2, 13.4.1 and 13.4.3."""
    assert hand.client.get(path).status_code == 404


@pytest.mark.parametrize("path", ["/broken", "/api/broken"])
def test_a_fault_of_ours_is_told_without_its_insides(tmp_path, path):
    """OWASP ASVS 5.0, 13.4.2, 16.5.1 and 16.5.3."""
    app = make_app(tmp_path / "log.db")

    def broken():
        raise RuntimeError("the insides")

    app.add_url_rule(path, "broken", broken)
    response = app.test_client().get(path)
    assert response.status_code == 500
    assert "insides" not in response.text
    assert "Traceback" not in response.text
    assert response.headers["Content-Security-Policy"]
    assert not app.debug
    assert app.test_client().get("/").status_code == 200
    app.extensions["joblog"].close()


@pytest.mark.parametrize(
    "name", ['a"; filename="x.exe', "a\r\nSet-Cookie: b=c", "½ 漢 \N{DROPLET}"]
)
@pytest.mark.parametrize("end", ["export.json", "export.csv", "record.a4.pdf", "record.html"])
def test_the_name_of_a_job_adds_nothing_to_a_header(app, name, end):
    """OWASP ASVS 5.0, 5.4.1 and 5.4.2, and splitting of headers."""
    hand = Hand(app.test_client())
    page = hand.send(hand.read("/jobs"), "/jobs", name=name)
    with hand.client.get(f"{page.path}/{end}") as response:
        assert response.status_code == 200
        assert "Set-Cookie" not in response.headers or "b=c" not in response.headers["Set-Cookie"]
        told = response.headers.get("Content-Disposition", "")
        assert "x.exe" not in told
        assert told.isascii()
        assert told.count('"') in {0, 2}


def test_a_request_writes_no_line_of_its_own_into_the_notes(tmp_path, caplog):
    """OWASP ASVS 5.0, 16.4.1."""
    app = make_app(tmp_path / "log.db")

    def broken(rest):
        raise RuntimeError("the insides")

    app.add_url_rule("/broken/<rest>", "broken", broken)
    assert app.test_client().get("/broken/a%0AERROR%20made%20up").status_code == 500
    assert "\nERROR made up" not in caplog.text
    assert "made up" in caplog.text
    app.extensions["joblog"].close()


def test_a_password_is_taken_exactly_as_it_was_typed():
    """OWASP ASVS 5.0, 6.2.8 and 6.2.9: neither cut nor folded; 64 letters and more are fine."""
    longest = ("violet gravel anchor teapot " * 5)[:LONGEST]
    assert LONGEST >= 64
    kept = hash_password(longest)
    assert is_right(kept, longest)
    for other in (longest + "x", longest[:-1], longest.upper(), longest.strip() + " "):
        assert not is_right(kept, other)


def test_a_password_of_any_letters_and_no_rule_for_them():
    """OWASP ASVS 5.0, 6.2.5."""
    assert hash_password("плотник чайник лодка ветер").startswith("$argon2id$")


def test_the_boxes_of_passwords_help_those_who_keep_them(crew):
    """OWASP ASVS 5.0, 6.2.6 and 6.2.7: masked, open to paste and to a keeper of passwords."""
    for hand, path in ((crew["stranger"], "/enter"), (crew["lead"], "/me")):
        page = hand.read(path)
        boxes = [one for one in page._all("input") if one.get("type") == "password"]
        assert boxes
        assert {one.get("autocomplete") for one in boxes} <= {"current-password", "new-password"}
        assert "onpaste" not in page.html
