"""A phone of one person: signed out with the phone, logged in again, and what others took."""

from __future__ import annotations

import sqlite3
from contextlib import closing

import pytest
from phone.conftest import PREPARED, Phone, entries_of
from support.browser_hand import BrowserHand
from support.entries import a_job, entry
from support.field_job import FieldPlayer
from support.phone_server import PhoneServer
from support.pictures import camera_photo

from fieldkit.joblog import JobLog
from fieldkit.joblog.people import People, Person
from fieldkit.web.passwords import hash_password
from fieldkit.web.photos import FolderPhotos, clean_photo

pytestmark = pytest.mark.browser

PASSWORD = "violet gravel anchor teapot"  # noqa: S105  -- only here


def sessions(server: PhoneServer) -> int:
    """How many are logged in, read with another program's eyes."""
    with closing(sqlite3.connect(server.db.with_suffix(".people"))) as conn:
        return conn.execute("SELECT count(*) FROM sessions").fetchone()[0]


def log_in(phone: Phone, name: str = "Bo") -> None:
    """Fill in who one is, on the page that asks for it."""
    phone.page.wait_for_selector("#password")
    phone.page.fill("[name=name]", name)
    phone.page.fill("#password", PASSWORD)
    phone.page.click("main form button")


@pytest.fixture
def crew_phone(chromium, phone_runtime, tmp_path):
    """A technician's phone, taken along from a server where everyone logs in and a photo lies."""
    server = PhoneServer(tmp_path / "log.db")
    with JobLog.open(server.db) as log:
        photos = FolderPhotos(tmp_path / "log-photos")
        picture = clean_photo(camera_photo((300, 200)))
        said = {"digest": photos.keep(picture), "bytes": len(picture), "about": "Before"}
        taken = entry(7, "photo", joint="joint-1", understood=said, who="Ann")
        log.append([*a_job(), taken], "2026-05-01T14:03:00.000Z")
    people = People(server.db.with_suffix(".people"))
    for name in ("Bo", "Cy"):
        people.add(Person(f"id-{name}", name, "technician"), hash_password(PASSWORD))
    people.close()
    server.start(listens_beyond=True)
    phone = Phone(chromium, tmp_path / "profile", server)
    try:
        phone.start("phone")
        log_in(phone)
        phone.page.goto(phone.base + "phone")
        phone.page.wait_for_selector("#take-start:visible")
        phone.take()
        yield phone
    finally:
        phone.stop()
        server.kill()
    assert phone.faults == []


def test_a_technicians_phone_from_taking_it_along_to_signing_out(crew_phone: Phone):
    phone, server = crew_phone, crew_phone.server
    hand = BrowserHand(phone.page, phone.base)
    player = FieldPlayer(hand)

    # What others took is here, and shown without signal.
    phone.until(lambda: kept(phone)["here"] == 1, "the photo of others did not come")
    server.kill()
    page = hand.read("/joint/joint-1/photos")
    assert "on the server" not in page.words
    assert phone.page.evaluate(DRAWN) == [[200, 300]]
    player.photo("joint-1", "After the repair")
    assert phone.page.evaluate(DRAWN) == [[200, 300], [1067, 1600]]

    # The session ended meanwhile: nothing is lost, and it is sent after logging in again.
    with closing(sqlite3.connect(server.db.with_suffix(".people"))) as conn, conn:
        conn.execute("DELETE FROM sessions")
    server.start(listens_beyond=True)
    phone.page.evaluate("window.dispatchEvent(new Event('online'))")
    phone.until_line("Log in again to send")
    # Somebody else on the same phone sends nothing of Bo's.
    phone.page.click("#signal a")
    log_in(phone, "Cy")
    phone.until_line("Somebody else is logged in. What is here waits for Bo.")
    assert [row["who"] for row in entries_of(server) if row["kind"] == "photo"] == ["Ann"]
    phone.page.click("#signal a")
    phone.page.wait_for_selector("h1")
    with closing(sqlite3.connect(server.db.with_suffix(".people"))) as conn, conn:
        conn.execute("DELETE FROM sessions")
    phone.page.goto(phone.base + "enter?next=/phone")
    log_in(phone)
    phone.until_line("All sent at")
    assert [row["who"] for row in entries_of(server) if row["kind"] == "photo"] == ["Ann", "Bo"]
    assert len(list(server.db.with_name("log-photos").iterdir())) == 2

    # Signing out asks first while something is unsent, and is kept until the server hears of it.
    server.kill()
    hand.read("/jobs")
    hand.send(hand.read("/job/job-1"), "/notes", note="not sent yet")
    player.photo("joint-1", "Not sent either")
    hand.read("/phone")
    phone.until(lambda: "Sign out Bo" in phone.page.inner_text("#forget"), "no way to sign out")
    phone.page.click("#forget")
    phone.page.wait_for_selector("#forget-ask:visible")
    assert "2 entries and 1 photo" in phone.page.inner_text("#forget-ask")
    phone.page.click("#forget")
    phone.page.wait_for_selector("text=You are signed out")
    # It looks as all pages do, though hardly anything is kept.
    assert phone.page.locator(".act .other").bounding_box()["height"] >= 48
    assert (
        phone.page.evaluate("indexedDB.databases().then((all) => all.map((one) => one.name))") == []
    )
    assert phone.page.evaluate("caches.keys()") == ["left-fieldkit"]
    assert not phone.page.evaluate(PREPARED)
    assert sessions(server) == 1
    server.start(listens_beyond=True)
    phone.page.goto(phone.base + "jobs")
    phone.page.wait_for_selector("#password")
    assert sessions(server) == 0
    assert "North bed" not in phone.page.content()
    assert phone.page.evaluate("caches.keys()") == []


#: The sizes of the photos on the page, once all are drawn.
DRAWN = """
async () => {
  const photos = [...document.querySelectorAll(".photo img")];
  for (const one of photos) one.loading = "eager";
  await Promise.all(photos.map((one) => one.decode()));
  return photos.map((one) => [one.naturalWidth, one.naturalHeight]);
}
"""


def kept(phone: Phone) -> dict:
    """What the phone's store of photos counts."""
    return phone.page.evaluate("import('/static/phone/photos.js').then((one) => one.counts())")
