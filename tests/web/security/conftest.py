"""A server that others can reach, and one person of each role on a device of their own."""

from __future__ import annotations

import pytest
from argon2 import PasswordHasher
from support.entries import NOW, a_job, entry
from support.hand import Hand

from fieldkit.app import make_app
from fieldkit.joblog.people import Person
from fieldkit.web import access, passwords

PASSWORD = "violet gravel anchor teapot"  # noqa: S105  -- only here


@pytest.fixture
def hashed(monkeypatch):
    """With little work, here and wherever it is compared: hashing is slow on purpose."""
    light = PasswordHasher(1, 256, 1)
    monkeypatch.setattr(passwords, "hasher", lambda: light)
    return light.hash(PASSWORD)


@pytest.fixture
def open_app(tmp_path):
    application = make_app(tmp_path / "log.db", testing=True, listens_beyond=True)
    log = application.extensions["joblog"]
    log.append([*a_job(), entry(20, "job", job="job-2", understood={"name": "Secret garden"})], NOW)
    log.append([entry(21, "joint", job="job-2", joint="joint-2", understood={"name": "Gate"})], NOW)
    yield application
    access_people = application.extensions.get("people")
    if access_people is not None:
        access_people.close()
    log.close()


@pytest.fixture
def crew(open_app, hashed):
    """Role → a hand that is logged in; ``stranger`` is not."""
    with open_app.app_context():
        store = access.people()
    hands = {"stranger": Hand(open_app.test_client())}
    for role in ("technician", "lead"):
        store.add(Person(f"id-{role}", role.capitalize(), role), hashed)
        hand = Hand(open_app.test_client())
        hand.send(hand.read("/enter"), "/enter", name=role, password=PASSWORD)
        hands[role] = hand
    lead = hands["lead"]
    page = lead.send(lead.read("/people"), "/invite", name="Homeowner", role="guest", job="job-1")
    link = page.html.split('readonly value="')[1].split('"')[0]
    hands["guest"] = Hand(open_app.test_client())
    hands["guest"].send(hands["guest"].read(link.removeprefix("http://localhost")), "")
    return hands
