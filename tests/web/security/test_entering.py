"""Logging in: slow wrong tries, a new session each time, invitations that work once."""

from __future__ import annotations

import io
import sqlite3
from base64 import urlsafe_b64decode
from contextlib import closing

import pytest
from argon2 import PasswordHasher
from click.testing import CliRunner
from support.entries import NOW, entry
from support.hand import Hand

from fieldkit.app import make_app
from fieldkit.cli.main import main
from fieldkit.engine.problems import Problem
from fieldkit.joblog.entry import entry_digest
from fieldkit.joblog.people import (
    FREE_OF_ADDRESS,
    IDLE_MS,
    INVITE_MS,
    KEPT_REFUSALS,
    LONGEST_MS,
    People,
    Person,
)
from fieldkit.joblog.signing import all_entries, whole_digest
from fieldkit.web import access, clock
from fieldkit.web.passwords import hash_password, needs_new_hash

PASSWORD = "violet gravel anchor teapot"  # noqa: S105  -- only here
WRONG = "not the password at all"
NEWER = "seven copper kettles sing"


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
    spelled = hand.send(hand.read("/enter"), "/enter", name=" L\u0435ad ", password=PASSWORD)
    assert spelled.status == 429  # as login reads the name, so the tries are counted
    other = Hand(open_app.test_client())
    for n in range(FREE_OF_ADDRESS - 4):
        other.send(other.read("/enter"), "/enter", name=f"somebody {n}", password=WRONG)
        # One's own password gives no new guesses at another's.
        assert other.send(
            other.read("/enter"), "/enter", name="technician", password=PASSWORD
        ).status in {200, 429}
        other.send(other.read("/me"), "/leave")
    other.send(other.read("/enter"), "/enter", name="somebody else", password=WRONG)
    stranger = Hand(open_app.test_client())
    page = stranger.send(stranger.read("/enter"), "/enter", name="technician", password=PASSWORD)
    assert page.status == 429  # the same address
    open_app.extensions.pop("people").close()
    page = hand.send(hand.read("/enter"), "/enter", name="lead", password=PASSWORD)
    assert page.status == 429


def test_a_stranger_locks_nobody_out_of_a_session_or_a_device(crew, open_app, monkeypatch):
    """Twenty wrong tries at the lead's name, from elsewhere."""
    now = clock.now_ms()
    monkeypatch.setattr(clock, "now_ms", lambda: now)
    elsewhere = {"REMOTE_ADDR": "192.0.2.7"}
    stranger = Hand(open_app.test_client())
    for _ in range(20):
        action, fields = stranger.read("/enter").form("/enter")
        sent = {**fields, "name": "lead", "password": WRONG}
        stranger.client.post(action, data=sent, environ_overrides=elsewhere)
    lead = crew["lead"]
    assert lead.read("/people").status == 200
    changed = {"old": PASSWORD, "password": NEWER}
    assert lead.send(lead.read("/me"), "/password", **changed).path == "/me"
    lead.send(lead.read("/me"), "/leave")
    page = lead.send(lead.read("/enter"), "/enter", name="lead", password=changed["password"])
    assert (page.status, page.path) == (200, "/")
    new_device = Hand(open_app.test_client())
    page = new_device.send(
        new_device.read("/enter"), "/enter", name="lead", password=changed["password"]
    )
    assert page.status == 429


def test_who_guesses_at_records_waits_and_who_holds_one_does_not(crew, open_app, monkeypatch):
    now = clock.now_ms()
    monkeypatch.setattr(clock, "now_ms", lambda: now)
    held = all_entries(open_app.extensions["joblog"], "job-1")
    digest = whole_digest({one.id: entry_digest(one) for one in held})
    address = f"/check/job-1/{len(held)}/{digest}"
    client = open_app.test_client()
    assert client.get(address).status_code == 200
    for n in range(FREE_OF_ADDRESS):
        assert client.get(f"/check/job-{n}/1/{n:064}").status_code == 404
    page = Hand(client).read(f"/check/job-1/{len(held)}/{0:064}")
    assert page.status == 429
    assert "Wait" in page.words
    assert client.get(address).status_code == 200, "it was right a moment ago"
    for n in range(FREE_OF_ADDRESS + 1):  # from as many addresses of one line
        line = {"REMOTE_ADDR": f"2001:db8:0:7::{n + 1:x}"}
        said = client.get(f"/check/job-1/1/{n:064}", environ_overrides=line).status_code
    assert said == 429
    elsewhere = {"REMOTE_ADDR": "192.0.2.7"}
    short = address.replace(f"/{len(held)}/", "/1/")
    assert client.get(short, environ_overrides=elsewhere).status_code == 404
    monkeypatch.setattr(clock, "now_ms", lambda: now + 3_000)
    open_app.extensions["joblog"].append([entry(60, note="Late word")], NOW)
    assert client.get(address).status_code == 200, "the wait is over"


def link_of(page):
    """The path of the link that a lead is shown."""
    return page.html.split('readonly value="')[1].split('"')[0].removeprefix("http://localhost")


def test_a_reset_link_lets_the_same_person_back_in_with_what_was_not_sent(crew, open_app):
    lead, technician = crew["lead"], crew["technician"]
    lead.send(lead.read("/people"), "/id-technician/end")
    assert technician.read("/jobs").path == "/enter"
    taken = lead.send(lead.read("/people"), "/invite", name="Techn1cian", role="technician")
    assert "has this name already" in taken.words  # the name waits for who had it
    link = link_of(lead.send(lead.read("/people"), "/id-technician/reset"))
    newer = link_of(lead.send(lead.read("/people"), "/id-technician/reset"))
    assert technician.read(link).status == 404  # of two, the newer
    page = technician.read(newer)
    assert page.heading == "A new password"
    page = technician.send(page, "", name="Lead", password=NEWER)
    assert page.status == 200
    with open_app.app_context():
        found, _ = access.people().named("technician")
    assert (found.id, found.name) == ("id-technician", "Technician")
    assert technician.read(newer).status == 404
    unsent = entry(30, "note", job="job-1", who="Technician", note="made without signal")
    token = technician.client.get("/phone/token").get_json()["token"]
    done = technician.client.post(
        "/phone/send", json={"entries": [unsent.as_json()]}, headers={"X-CSRFToken": token}
    )
    assert done.get_json()["kept"] == [unsent.id]


def test_open_invitations_are_listed_and_taken_back(crew):
    lead = crew["lead"]
    link = link_of(lead.send(lead.read("/people"), "/invite", name="Bo Dee", role="technician"))
    page = lead.read("/people")
    assert "Bo Dee" in page.words
    assert "By Lead" in page.words
    assert "Bo Dee" not in lead.send(page, "/revoke").words
    assert crew["stranger"].read(link).status == 404


@pytest.mark.parametrize("name", ["L\u0435ad", "Lead\u200b", "\u041b\u0435\u0430d"])
def test_a_name_that_passes_for_the_leads_is_refused_to_invite_join_and_send(crew, name, open_app):
    lead = crew["lead"]
    page = lead.send(lead.read("/people"), "/invite", name=name, role="technician")
    assert page.status == 422
    link = link_of(lead.send(lead.read("/people"), "/invite", name="Bo", role="technician"))
    page = crew["stranger"].send(crew["stranger"].read(link), "", name=name, password=PASSWORD)
    assert page.status == 422
    sent = entry(31, "note", job="job-1", who=name, note="not mine").as_json()
    token = lead.client.get("/phone/token").get_json()["token"]
    done = lead.client.post("/phone/send", json={"entries": [sent]}, headers={"X-CSRFToken": token})
    refused = done.get_json()["refused"]
    # The third mixes alphabets without looking like anybody here: that is no name to join under.
    assert bool(refused) == (name[0] == "L")


@pytest.mark.parametrize("password", ["", "nobody has this password", "x"])
def test_a_guest_has_no_password_that_could_be_guessed(crew, open_app, password):
    with open_app.app_context():
        guest = next(one for one in access.people().all() if one.role == "guest")
    for name in (guest.id, f" {guest.id}", guest.name):
        hand = Hand(open_app.test_client())
        assert hand.send(hand.read("/enter"), "/enter", name=name, password=password).status == 422


def test_what_happened_is_written_down_for_the_server(crew, open_app, tmp_path):
    lead, technician = crew["lead"], crew["technician"]
    stranger = crew["stranger"]
    stranger.send(stranger.read("/enter"), "/enter", name="lead", password=WRONG)
    stranger.send(stranger.read("/enter"), "/enter", name="a-password-typed-here", password=WRONG)
    assert technician.client.get("/people").status_code == 403
    page = lead.read("/jobs")
    action, fields = page.form("/import")
    file = (io.BytesIO(b'{"format": "fieldkit entries 1", "entries": [{"id": 7}]}'), "x.json")
    lead.client.post(action, data={**fields, "file": file})
    said = CliRunner().invoke(main, ["people", "log", "--db", str(tmp_path / "log.db")]).output
    for words in (
        "Technician entered",
        "Lead invited Homeowner",
        "Homeowner joined as guest",
        "gave a wrong password for Lead",
        "Technician was refused GET /people",
        "Lead brought in 0 new, 0 here already, 1 refused",
    ):
        assert words in said, said
    assert "a-password-typed-here" not in said
    assert "(127.0.0.1)" in said


def test_what_strangers_cause_drives_nothing_else_out(store, monkeypatch):
    monkeypatch.setattr("fieldkit.joblog.people.KEPT_REFUSALS", 100)
    store.note(0, "Ann Lee", "entered")
    for n in range(600):
        store.note(n, "", "wrong")
    kept = [one.what for one in store.doings(10_000)]
    assert "entered" in kept
    assert len(kept) < 100 + 256 + 1 < KEPT_REFUSALS


def test_a_file_of_an_older_version_is_read_on_and_one_of_a_newer_is_left(tmp_path):
    path = tmp_path / "x.people"
    with closing(sqlite3.connect(path)) as conn:
        conn.executescript(
            """
            CREATE TABLE people (id TEXT PRIMARY KEY, name TEXT NOT NULL,
                login TEXT NOT NULL UNIQUE, role TEXT NOT NULL, job TEXT NOT NULL,
                password TEXT NOT NULL, ended INTEGER NOT NULL DEFAULT 0);
            CREATE TABLE invites (token TEXT PRIMARY KEY, name TEXT NOT NULL, role TEXT NOT NULL,
                job TEXT NOT NULL, until INTEGER NOT NULL);
            CREATE TABLE tries (about TEXT PRIMARY KEY, wrong INTEGER, last INTEGER);
            INSERT INTO people VALUES ('a', 'Ali Dill', 'ali dill', 'lead', '', 'hash', 0);
            INSERT INTO people VALUES ('g', 'Guest', 'g', 'guest', 'job-1', '', 0);
            """
        )
    people = People(path)
    assert people.named("ALI  dill")[0].id == "a"
    people.close()
    with closing(sqlite3.connect(path)) as conn:
        conn.execute("PRAGMA user_version = 99")
    with pytest.raises(Problem, match="newer fieldkit"):
        People(path)


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
        assert len(urlsafe_b64decode(session["seat"] + "=")) == 32


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
    fields = {"old": PASSWORD, "password": NEWER}
    page = hand.send(hand.read("/me"), "/password", **fields)
    assert (page.status, page.path) == (200, "/me")
    assert other.read("/jobs").path == "/enter"


@pytest.mark.parametrize("weak", ["short", "passwordpassword", "annleeannlee", "123456789012"])
def test_a_weak_password_is_refused_in_plain_words(weak):
    with pytest.raises(Problem, match="password"):
        hash_password(weak, "Ann Lee")


def test_a_hash_of_less_work_is_made_anew_and_a_password_is_compared_whole(crew, open_app):
    with open_app.app_context():
        store = access.people()
    long = f"{PASSWORD} " * 4 + "x" * (128 - 4 * len(PASSWORD) - 4)
    store.set_password("id-technician", PasswordHasher(1, 8, 1).hash(long))
    hand = Hand(open_app.test_client())
    page = hand.send(hand.read("/enter"), "/enter", name="technician", password=long[:-1] + "y")
    assert page.status == 422
    page = hand.send(hand.read("/enter"), "/enter", name="technician", password=long)
    assert (page.status, page.path) == (200, "/")
    assert not needs_new_hash(store.named("technician")[1])
    with pytest.raises(Problem, match="12 to 128"):
        hash_password(long + "z")


def test_the_hash_is_argon2id_and_cookies_travel_by_https_only_when_told(tmp_path):
    # RFC 9106, section 4: the second recommended option, 64 MiB, 3 passes, 4 lanes.
    assert hash_password(PASSWORD).startswith("$argon2id$v=19$m=65536,t=3,p=4$")
    app = make_app(
        tmp_path / "log.db", testing=True, listens_beyond=True, public_url="https://localhost"
    )
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
    assert client.get("/", base_url="http://evil.example").status_code == 421
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
    link = run("reset", "ann lee", "--at", "https://x.example").output.strip()
    assert "reset" in run("list").output
    page = hand.read(link.removeprefix("https://x.example"))
    page = hand.send(page, "", password=NEWER)
    assert page.heading == "What is in front of you?"
    run("invite", "Cy")
    key = next(line for line in run("list").output.splitlines() if "invited" in line).split()[0]
    assert "Cy works no more" in run("revoke", key).output
    assert "Ann Lee came back with a new password" in run("log").output
    app.extensions["joblog"].close()
    app.extensions["people"].close()
