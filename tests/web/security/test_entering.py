"""Logging in: slow wrong tries, a new session each time, invitations that work once."""

from __future__ import annotations

import pytest
from click.testing import CliRunner
from support.hand import Hand

from fieldkit.app import make_app
from fieldkit.cli.main import main
from fieldkit.engine.problems import Problem
from fieldkit.joblog.people import IDLE_MS, INVITE_MS, LONGEST_MS, People, Person
from fieldkit.web import clock
from fieldkit.web.passwords import hash_password

PASSWORD = "violet gravel anchor teapot"  # noqa: S105  -- only here
WRONG = "not the password at all"


@pytest.fixture
def store():
    people = People(None)
    people.add(Person("ann", "Ann Lee", "lead"), "kept hash")
    yield people
    people.close()


def test_a_session_ends_when_unused_when_old_and_when_ended_elsewhere(store):
    store.begin("t1", "ann", "phone", 0)
    store.begin("t2", "ann", "laptop", 0)
    assert store.seated("t1", IDLE_MS).name == "Ann Lee"
    assert store.seated("t2", IDLE_MS + 1) is None
    assert store.seated("t1", LONGEST_MS + 1) is None
    store.begin("t3", "ann", "tablet", 0)
    assert store.end_sessions("ann", but="t3") == 2
    assert store.seated("t1", 1) is None
    assert store.seated("t3", 1) is not None
    store.end("ann")
    assert store.seated("t3", 1) is None


def test_an_invitation_works_once_and_expires(store):
    store.invite("token", "Bo", "technician", 0)
    assert store.invited("token", INVITE_MS + 1) is None
    assert not store.accept("token", Person("bo", "Bo", "technician"), "h", INVITE_MS + 1)
    with pytest.raises(Problem, match="has this name already"):
        store.accept("token", Person("bo", "ann  LEE", "technician"), "h", 1)
    assert store.accept("token", Person("bo", "Bo", "technician"), "h", 1)
    assert not store.accept("token", Person("bo2", "Bo 2", "technician"), "h", 1)


def test_tokens_are_not_in_the_file(tmp_path):
    people = People(tmp_path / "x.people")
    people.add(Person("ann", "Ann", "lead"), "hash")
    people.begin("seat-token", "ann", "phone", 0)
    people.invite("invite-token", "Bo", "technician", 0)
    people.close()
    kept = b"".join(path.read_bytes() for path in tmp_path.iterdir())
    assert b"seat-token" not in kept
    assert b"invite-token" not in kept
    assert (tmp_path / "x.people").stat().st_mode & 0o077 == 0


def test_wrong_tries_slow_down_by_name_and_by_address_also_after_a_restart(
    crew, open_app, monkeypatch
):
    now = clock.now_ms()
    monkeypatch.setattr(clock, "now_ms", lambda: now)  # a busy machine waits it out
    hand = crew["stranger"]
    for _ in range(3):
        page = hand.send(hand.read("/enter"), "/enter", name="lead", password=WRONG)
        assert page.status == 422
    page = hand.send(hand.read("/enter"), "/enter", name="lead", password=PASSWORD)
    assert page.status == 429  # also the right password waits: a guesser learns nothing
    assert "Wait" in page.words
    other = Hand(open_app.test_client())
    page = other.send(other.read("/enter"), "/enter", name="technician", password=PASSWORD)
    assert page.status == 429  # the same address
    open_app.extensions.pop("people").close()
    page = hand.send(hand.read("/enter"), "/enter", name="lead", password=PASSWORD)
    assert page.status == 429


def test_nobody_learns_which_names_exist(crew):
    hand = crew["stranger"]
    said = [
        hand.send(hand.read("/enter"), "/enter", name=name, password=WRONG).words
        for name in ("lead", "nobody")
    ]
    assert said[0] == said[1]


def test_logging_in_makes_a_new_session_and_ends_the_old(crew):
    client = crew["lead"].client
    with client.session_transaction() as session:
        before = session["seat"]
    client.post("/enter", data={})  # nothing happens without a token
    crew["lead"].send(crew["lead"].read("/me"), "/leave")
    with client.session_transaction() as session:
        assert "seat" not in session
        session["seat"] = before  # a kept cookie, or one planted by somebody
    assert crew["lead"].read("/").path == "/enter"
    page = crew["lead"].read("/enter")
    crew["lead"].send(page, "/enter", name="lead", password=PASSWORD)
    with client.session_transaction() as session:
        assert session["seat"] != before


@pytest.mark.parametrize(
    "where", ["//elsewhere.example", "https://x.example/", "/\\x", "/a\r\nb:c"]
)
def test_logging_in_sends_nobody_to_another_site(crew, where):
    hand = crew["stranger"]
    action, fields = hand.read("/enter").form("/enter")
    sent = {**fields, "next": where, "name": "lead", "password": PASSWORD}
    response = hand.client.post(action, data=sent)
    assert response.status_code == 303
    assert response.headers["Location"] == "/"


def test_a_lead_ends_sessions_and_access(crew):
    lead = crew["lead"]
    lead.send(lead.read("/people"), "/id-technician/end-sessions")
    assert crew["technician"].read("/jobs").path == "/enter"
    page = lead.send(lead.read("/people"), "/id-technician/end")
    assert "Technician" not in [line.strip() for line in page.words.split("Logged in on")]
    hand = crew["technician"]
    assert (
        hand.send(hand.read("/enter"), "/enter", name="technician", password=PASSWORD).status == 422
    )


def test_a_new_password_ends_the_other_sessions(crew, open_app):
    other = Hand(open_app.test_client())
    other.send(other.read("/enter"), "/enter", name="technician", password=PASSWORD)
    hand = crew["technician"]
    fields = {"old": PASSWORD, "password": "seven copper kettles sing"}
    page = hand.send(hand.read("/me"), "/password", **fields)
    assert (page.status, page.path) == (200, "/me")
    assert other.read("/jobs").path == "/enter"


@pytest.mark.parametrize("weak", ["short", "passwordpassword", "annleeannlee", "123456789012"])
def test_a_weak_password_is_refused_in_plain_words(weak):
    with pytest.raises(Problem, match="password"):
        hash_password(weak, "Ann Lee")


def test_the_hash_is_argon2id_and_cookies_travel_by_https_only_when_told(tmp_path):
    assert hash_password(PASSWORD).startswith("$argon2id$")
    app = make_app(tmp_path / "log.db", testing=True, listens_beyond=True, secure_cookies=True)
    with app.test_client().get("/enter", base_url="https://localhost") as response:
        cookie = response.headers["Set-Cookie"]
        assert cookie.startswith("__Host-fieldkit=")
        assert "Secure" in cookie
        assert "Path=/" in cookie
        assert "Domain" not in cookie
        told = response.headers["Strict-Transport-Security"]
        assert told == "max-age=31536000; includeSubDomains"
    app.extensions["joblog"].close()
    app.extensions["people"].close()


def test_a_page_of_another_name_cannot_ask_this_machine(tmp_path):
    app = make_app(tmp_path / "log.db", testing=True, hosts=frozenset({"localhost"}))
    client = app.test_client()
    assert client.get("/").status_code == 200
    assert client.get("/", base_url="http://evil.example").status_code == 400
    app.extensions["joblog"].close()


@pytest.mark.parametrize("host", ["elsewhere.example", "*", "a.example:99:1"])
@pytest.mark.parametrize("path", ["/api", "/joint//choose", "//elsewhere.example//jobs"])
def test_no_redirect_believes_the_host_that_was_asked_for(crew, path, host):
    response = crew["lead"].client.get(path, headers={"Host": host})
    where = response.headers.get("Location", "/")
    assert where.startswith("/")
    assert not where.startswith("//")
    assert response.status_code < 500


def test_the_first_lead_is_made_on_the_command_line(tmp_path):
    db = str(tmp_path / "log.db")

    def run(*words, given=""):
        return CliRunner().invoke(main, ["people", *words, "--db", db], input=given)

    done = run("add-lead", "Ann Lee", given=f"{PASSWORD}\n{PASSWORD}\n")
    assert done.exit_code == 0, done.output
    assert "Ann Lee" in run("list").output
    link = run("invite", "Bo", "--at", "https://x.example").output.strip()
    app = make_app(tmp_path / "log.db", testing=True, listens_beyond=True)
    hand = Hand(app.test_client())
    page = hand.read(link.removeprefix("https://x.example"))
    assert page.heading == "You are invited"
    page = hand.send(page, "", password=PASSWORD)
    assert page.heading == "What is in front of you?"
    assert hand.read(link.removeprefix("https://x.example")).status == 404
    done = run("end-sessions", "bo")
    assert "1 session" in done.output
    assert hand.read("/").path == "/enter"
    app.extensions["joblog"].close()
    app.extensions["people"].close()
