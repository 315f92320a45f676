"""One person's way through the tool in Firefox and in WebKit: with signal, without, after a kill.

The pages and what they keep are the same as in Chromium; what is tried here is the browser.
"""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from engines.browsers import Browser, screen
from engines.hand import SeleniumHand
from phone.conftest import READY, entries_of
from support.field_job import FieldPlayer
from support.phone_server import PhoneServer
from support.pictures import camera_photo

from fieldkit.joblog.exchange import carried_by
from fieldkit.phone import runtime
from fieldkit.phone.kit import Kit

# Selenium's driver of WebKit uses what Selenium advises against.
pytestmark = pytest.mark.filterwarnings("ignore:setting remote_server_addr:DeprecationWarning")


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    """A server with an empty log."""
    folder = runtime.runtime_folder()
    runtime.fetch(folder)
    assert Kit(folder).about()["ready"]  # byte code takes longer to make than a page waits
    found = PhoneServer(tmp_path_factory.mktemp("server") / "log.db")
    found.start()
    yield found
    found.kill()


@pytest.fixture
def opened(engine, tmp_path):
    """Browsers by their profile's name, closed after the test."""
    made: list[Browser] = []

    def open_(name: str, **how) -> Browser:
        made.append(Browser(engine, tmp_path / name, **how))
        made[-1].start()
        return made[-1]

    if engine == "webkit":
        with screen():
            yield open_
            for one in made:
                one.stop()
    else:
        yield open_
        for one in made:
            one.stop()


class Player(FieldPlayer):
    """Plays a joint by the driver's hand."""

    def photo_of(self, joint: str, file: Path) -> str:
        """Take a photo, by its file's name."""
        page = self.hand.read(f"/joint/{joint}/photos")
        seen = self.hand.send(page, "/photos", photo=file, about="Box 3")
        return re.findall(r'<img src="([^"]+)"', seen.html)[-1]


def sign(hand: SeleniumHand, job: str) -> None:
    """Sign a job, with a reason for each point that is missing."""
    page = hand.read(f"/job/{job}/sign")
    reasons = dict.fromkeys(re.findall(r'name="(waive-[^"]+)"', page.html), "left for tomorrow")
    named = {"name": "Ann"} if ' name="name"' in page.html else {}
    seen = hand.send(page, f"/job/{job}/sign", **reasons, **named)
    assert "Seal holds" in hand.read(f"/job/{job}/sign").words, seen.words


def job_of(server: PhoneServer, joint: str) -> str:
    return next(row["job"] for row in entries_of(server) if row["joint"] == joint)


@pytest.mark.parametrize("scripts", [True, False], ids=["scripts", "no scripts"])
def test_home_joint_diagnosis_and_signature(server, opened, scripts):
    browser = opened("with signal", scripts=scripts)
    hand = SeleniumHand(browser.driver, server.address)
    page = hand.read("/")
    started = hand.send(page, what="tube")
    assert "/measure-tube/" in started.path, started.words
    joint = Player(hand).whole_job(f"North bed, scripts {scripts}")
    sign(hand, job_of(server, joint))


def taken_along(browser: Browser, base: str) -> SeleniumHand:
    """Take the tool along, and wait until the next start is prepared."""
    hand = SeleniumHand(browser.driver, base)
    hand.read("/phone")
    driver = browser.driver
    begin = hand.until(
        lambda: [one for one in driver.find_elements("id", "take-start") if one.is_displayed()],
        "it is not offered",
    )
    begin[0].click()
    hand.until(lambda: driver.find_element("id", "take-say").text == READY, "it is not ready", 120)
    hand.until(lambda: prepared(driver), "no copy of the memory was made")
    return hand


def prepared(driver) -> bool:
    return driver.execute_async_script(PREPARED)


#: The copy of the memory lies in a file, or in a cache where there are no such files.
PREPARED = """
const [done] = arguments;
(async () => {
  if (await caches.match("/phone/memory/size")) return true;
  if (!navigator.storage?.getDirectory) return false;
  for await (const one of (await navigator.storage.getDirectory()).keys()) {
    if (one.startsWith("fieldkit-memory-")) return true;
  }
  return false;
})().then(done);
"""


def line_says(hand: SeleniumHand, words: str) -> None:
    """Wait until the line says so."""
    hand.until(
        lambda: words in "".join(one.text for one in hand.driver.find_elements("id", "signal")),
        f"the line does not say {words!r}",
    )


def test_taken_along_and_used_without_signal(server, opened, tmp_path):
    browser = opened("phone")
    hand = taken_along(browser, server.address)
    player = Player(hand)
    job = hand.send(hand.read("/jobs"), "/jobs", name="South bed")
    joint = hand.send(job, "/joints", name="Box 4").path
    assert re.fullmatch(r"/joint/[\w-]+", joint), "the address stays at the old page"
    line_says(hand, "All sent at")

    server.kill()
    try:
        # A second document in the same tab, again and again.
        for path in (joint, job.path, joint, "/tables"):
            assert hand.read(path).path == path
        hand.leave(lambda: hand.driver.execute_script("location.reload()"))
        assert hand.seen().path == "/tables"
        note = hand.send(hand.read(joint), "/notes", note="Wet up to the lid")
        assert note.path == joint
        assert "Wet up to the lid" in note.words
        browser.kill()

        hand = SeleniumHand(browser.start(), server.address)
        assert "Wet up to the lid" in hand.read(joint).words
        how = hand.until(
            lambda: hand.driver.execute_script("return document.documentElement.dataset.engineMs"),
            "the engine does not say how it started",
        )
        assert how.startswith("memory"), how
        player.hand = hand
        (tmp_path / "box.jpg").write_bytes(camera_photo())
        image = player.photo_of(joint.rsplit("/", 1)[-1], tmp_path / "box.jpg")
        drawn = hand.driver.execute_async_script(DRAWN, image)
        assert drawn == [1067, 1600]
    finally:
        server.start()
    hand.read(joint)
    hand.driver.execute_script("window.dispatchEvent(new Event('online'))")
    line_says(hand, "All sent at")
    sent = [row for row in entries_of(server) if row["job"] in job.path]
    assert [row["kind"] for row in sent] == ["job", "joint", "note", "photo"]
    assert len(list(server.db.with_name("log-photos").glob("*.jpg"))) >= 1

    server.kill()
    try:
        hand.read(job.path)
        link = hand.driver.find_element("css selector", "a[href$='export.json']")
        hand.driver.execute_script(UNFOLD, link)
        link.click()
        found = hand.until(
            lambda: [one for one in browser.downloads.glob("*.json") if is_whole(one)],
            "no file came",
        )
        held = carried_by(found[0].read_bytes())
        assert sorted(key for key, _ in held.entries()) == sorted(row["id"] for row in sent)
        assert len(list(held.photos())) == 1
    finally:
        server.start()


UNFOLD = """
for (const one of document.querySelectorAll("main details")) one.open = true;
arguments[0].scrollIntoView({ block: "center" });
"""

DRAWN = """
const [address, done] = arguments;
const image = new Image();
image.onload = () => done([image.naturalWidth, image.naturalHeight]);
image.onerror = () => done("not drawn");
image.src = address;
"""


def is_whole(file: Path) -> bool:
    try:
        return bool(json.loads(file.read_bytes()))
    except ValueError:
        return False
