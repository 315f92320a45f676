"""Old or small phones, and no server at all: what there is when a part of it is missing."""

from __future__ import annotations

import functools
import json
import shutil
import threading
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer

import pytest
from phone.conftest import READY, Phone
from support.browser_hand import BrowserHand
from support.field_job import FieldPlayer
from support.phone_server import PhoneServer

from fieldkit.joblog.exchange import carried_by
from fieldkit.phone.export import export
from fieldkit.web.photos import check_photo

pytestmark = pytest.mark.browser


#: The phone may take longer to start than it was given.
GIVE_TIME = """
async () => {
  const { readState, writeState } = await import("/static/phone/state.js");
  const state = await readState();
  await writeState({ ...state, about: { ...state.about, start_seconds: 120 } });
}
"""


def test_a_phone_that_cannot_start_the_engine_keeps_the_tables_and_says_why(
    chromium, phone_runtime, tmp_path
):
    server = PhoneServer(tmp_path / "log.db")
    server.start(start_seconds=0.2)
    phone = Phone(chromium, tmp_path / "profile", server)
    try:
        page = phone.start("phone")
        page.click("#take-start:visible")
        phone.until(
            lambda: "does not start" in page.inner_text("#take-say"), "it was not said", 120
        )
        assert "within 0.2 seconds" in page.inner_text("#take-say")
        # With signal the server answers as before.
        page.goto(phone.base + "jobs")
        assert phone.heading() == "Jobs"
        server.kill()
        page.goto(phone.base + "tables/weld-times")
        assert phone.heading().startswith("Cement")
        page.goto(phone.base + "jobs")
        page.wait_for_selector("#shell-stuck:visible")
        assert "within 0.2 seconds" in page.inner_text("#shell-why")
        page.click("#shell-stuck a.main")
        page.wait_for_url("**/tables")
        page.wait_for_load_state()
        assert phone.heading() == "Tables to look things up"
        page.goto(phone.base + "paper")
        assert phone.heading() == "Why it leaks, on paper"
        # Tried once more in vain: all that is kept is there still.
        page.goto(phone.base + "jobs")
        page.click("#shell-again:visible")
        page.wait_for_selector("html[data-engine=failed]", state="attached")
        page.wait_for_selector("#shell-stuck:visible")
        page.click("#shell-stuck a.main")
        page.wait_for_selector("h1:has-text('Tables to look things up')")
        # A quieter moment: the engine starts, and from then on its pages are used.
        page.evaluate(GIVE_TIME)
        page.goto(phone.base + "jobs")
        page.wait_for_selector("html:not([data-shell]) main h1")
        assert phone.heading() == "Jobs"
        assert phone.until_engine()
    finally:
        phone.stop()
        server.kill()
    assert phone.faults == []


#: As on a phone that never took the photo.
FORGET_PHOTOS = """
async () => {
  const photos = await import("/kit/static/phone/photos.js");
  await photos.discard(await photos.digests());
  const { news } = await import("/kit/static/phone/exchange.js");
  news.postMessage({ type: "photos" });
}
"""


class Host(SimpleHTTPRequestHandler):
    """A plain file host: it knows files, and nothing of us."""

    def log_message(self, *words) -> None:
        """Say nothing."""


@pytest.fixture(scope="module")
def site(phone_runtime, tmp_path_factory):
    """The export, lying in a folder of a file host; its address."""
    root = tmp_path_factory.mktemp("host")
    export(root / "kit", "/kit/")
    with ThreadingHTTPServer(
        ("127.0.0.1", 0), functools.partial(Host, directory=str(root))
    ) as host:
        threading.Thread(target=host.serve_forever, daemon=True).start()
        yield root / "kit", host.server_address[1]
        host.shutdown()


def test_the_whole_tool_runs_from_a_plain_file_host(site, chromium, tmp_path):
    """No server of ours: a joint and a diagnosis, then the job out by file and in again."""
    folder, port = site
    phone = Phone(chromium, tmp_path / "profile", PhoneServer(tmp_path / "none.db", port), "kit/")
    try:
        page = phone.start("")
        assert "nothing you type leaves the phone" in page.inner_text("main")
        page.click("#take-start:visible")
        phone.until(lambda: page.inner_text("#take-say") == READY, "not ready")
        hand = BrowserHand(page, phone.base)
        player = FieldPlayer(hand)
        joint = player.whole_job("Without a server")
        image = player.photo(joint, "The popped fitting")
        phone.until_line("Kept on this phone only.")
        # The host goes, the browser too; a deep link answers all the same.
        folder.rename(folder.with_name("away"))
        phone.stop()
        page = phone.start(f"joint/{joint}")
        page.wait_for_selector("html:not([data-shell]) main h1")
        assert phone.heading() == "Box 3"
        jobs = hand_of(phone).read("/jobs")
        assert "Without a server" in jobs.words
        exported = page.evaluate(
            """async () => {
              const link = document.querySelector("a[href*='/kit/job/']");
              return (await fetch(`${link.getAttribute("href")}/export.json`)).text();
            }"""
        )
        assert len(json.loads(exported)["entries"]) > 20
        ((digest, picture),) = carried_by(exported).photos()
        assert image.endswith(f"{digest}.jpg")
        check_photo(digest, picture)
        (tmp_path / "job.json").write_text(exported)
        hand_of(phone).unfold()
        page.set_input_files("input[type=file]", tmp_path / "job.json")
        page.click("form[action$='/jobs/import'] button")
        page.wait_for_selector("h1:has-text('Brought in')")
        # Another phone of no server gets the job, and its photo, from the file.
        page.evaluate(FORGET_PHOTOS)
        assert "on another copy" in hand_of(phone).read(f"/joint/{joint}/photos").words
        hand_of(phone).read("/jobs")
        hand_of(phone).unfold()
        page.set_input_files("input[type=file]", tmp_path / "job.json")
        page.click("form[action$='/jobs/import'] button")
        page.wait_for_selector("h1:has-text('Brought in')")
        assert "on another copy" not in hand_of(phone).read(f"/joint/{joint}/photos").words
    finally:
        phone.stop()
        shutil.rmtree(phone.profile, ignore_errors=True)
    assert phone.faults == []


def hand_of(phone: Phone) -> BrowserHand:
    """A hand on the page as it is now."""
    return BrowserHand(phone.page, phone.base)
