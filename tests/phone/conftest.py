"""A phone that was taken to the field: a Chromium with a profile that is kept between starts."""

from __future__ import annotations

import shutil
import sqlite3
import time
from contextlib import closing, contextmanager
from pathlib import Path

import pytest
from support.chromium import launch_options
from support.phone_server import PhoneServer

from fieldkit.phone import runtime
from fieldkit.phone.kit import Kit

READY = "Ready to work without signal."

#: How long anything is waited for: no wait lasts longer than until it is there. [s]
PATIENCE = 150.0

#: Whether the first start has left what lets the next ones start at once.
PREPARED = """
async () => {
  const names = await Array.fromAsync((await navigator.storage.getDirectory()).keys());
  return names.some((name) => name.startsWith("fieldkit-memory-"));
}
"""

#: How the engine stands, why, and how far its start has come.
LEAD = """
async () => {
  const { lead } = await import("/static/phone/lead.js");
  return { standing: lead.standing, ...lead };
}
"""

#: Let the next start begin from the pack.
DROP_MEMORY = """
async () => {
  const folder = await navigator.storage.getDirectory();
  for await (const name of folder.keys()) {
    if (name.startsWith("fieldkit-memory-")) await folder.removeEntry(name);
  }
}
"""


@pytest.fixture(scope="session")
def phone_runtime() -> Path:
    """The runtime, fetched by name as ``fieldkit phone fetch`` does, once for all tests.

    The kit is built from it once too, since compiling takes longer than a test waits.
    """
    folder = runtime.runtime_folder()
    runtime.fetch(folder)
    assert Kit(folder).about()["ready"]
    return folder


@pytest.fixture(scope="session")
def chromium(driver):
    return driver.chromium


class Phone:
    """A browser with its profile; it can be killed and started again where it was."""

    def __init__(
        self,
        chromium,
        profile: Path,
        server: PhoneServer,
        fields: str = "",
        group: str | None = None,
    ) -> None:
        self.chromium = chromium
        self.profile = profile
        self.server = server
        self.group = group  # the folder of a control group to run in
        self.base = f"{server.address}/{fields}"
        self.context = None
        self.faults: list[str] = []

    def start(self, path: str | None = None, *, offline: bool = False):
        """Open the browser, and a page when a path is given."""
        options = launch_options()
        if self.group is not None:
            options["executable_path"] = self._in_group(options["executable_path"])
        self.context = self.chromium.launch_persistent_context(str(self.profile), **options)
        self.context.set_default_timeout(1000 * PATIENCE)
        self.context.set_offline(offline)
        self.page = self.watch(self.context.pages[0])
        if path is not None:
            self.page.goto(self.base + path)
        return self.page

    def _in_group(self, browser: str) -> str:
        """A script that joins the group before it becomes the browser."""
        script = self.profile.with_suffix(".sh")
        script.write_text(f'#!/bin/sh\necho $$ > {self.group}/cgroup.procs\nexec {browser} "$@"\n')
        script.chmod(0o755)
        return str(script)

    def watch(self, page):
        """Note what must not happen: a script that breaks, a policy broken, a foreign host."""
        page.on("pageerror", lambda error: self.faults.append(f"script: {error}"))
        page.on("console", self._console)
        page.on("request", self._request)
        return page

    def _console(self, message) -> None:
        if message.type == "error" and "Failed to load resource" not in message.text:
            self.faults.append(f"console: {message.text}")

    def _request(self, request) -> None:
        if not request.url.startswith((self.server.address, "data:", "blob:")):
            self.faults.append(f"another host: {request.url}")

    def stop(self) -> None:
        """Close the browser as a person does."""
        self.context.close()

    def grant(self, size: int | None) -> None:
        """Let the browser grant this site so many bytes of disk in all; with None, the usual."""
        self._granting = self.context.new_cdp_session(self.page)
        wanted = {"origin": self.server.address} | ({} if size is None else {"quotaSize": size})
        self._granting.send("Storage.overrideQuotaForOrigin", wanted)

    # ── What a person sees ──────────────────────────────────────────────────────────────────

    def line(self) -> str:
        """The line on the page."""
        return self.page.inner_text("#signal")

    def until(self, ask, what: str, seconds: float = PATIENCE):
        """Wait until ``ask`` says something true."""
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            if found := ask():
                return found
            self.page.wait_for_timeout(30)
        raise AssertionError(f"{what}, after {seconds} s: {self.page.url} {self.line_or_none()}")

    def line_or_none(self) -> str | None:
        """The line, where there is one."""
        return self.page.text_content("#signal") if self.page.query_selector("#signal") else None

    def until_line(self, words: str, seconds: float = PATIENCE) -> None:
        """Wait until the line says so."""
        self.until(lambda: words in (self.line_or_none() or ""), f"no {words!r}", seconds)

    def exchange(self) -> None:
        """Let the page exchange now and wait for it: one that goes on already does not count.

        The line may still tell of the exchange before.
        """
        now = "import('/static/phone/field.js').then((one) => one.exchangeNow())"
        self.until(lambda: self.page.evaluate(now) is not None, "it never was this page's turn")

    def until_engine(self, seconds: float = PATIENCE) -> str:
        """Wait for this tab's engine; returns how it started and in how many ms."""
        with self._saying_how_it_stands():
            self.until(lambda: self.engine() == "ready", "the engine is not ready", seconds)
        return self.page.evaluate("document.documentElement.dataset.engineMs")

    def engine(self) -> str | None:
        """How the engine of this tab stands."""
        return self.page.evaluate("document.documentElement.dataset.engine")

    def take(self, seconds: float = 300.0) -> None:
        """Take the tool to the field, from the page that offers it."""
        self.page.click("#take-start")
        with self._saying_how_it_stands():
            self.until(lambda: self.page.inner_text("#take-say") == READY, "not ready", seconds)

    @contextmanager
    def _saying_how_it_stands(self):
        """Let what waited in vain for the engine say how far that has come."""
        try:
            yield
        except AssertionError as late:
            said = (
                self.page.text_content("#take-say") if self.page.query_selector("#take-say") else ""
            )
            late.add_note(f"it stands so: {said} {self.page.evaluate(LEAD)} {self.faults}")
            raise

    def heading(self) -> str:
        """The h1."""
        return self.page.inner_text("h1")


@pytest.fixture(scope="session")
def taken(chromium, phone_runtime, tmp_path_factory):
    """A phone taken to the field with a stop in the middle: its profile, log, and what was seen."""
    folder = tmp_path_factory.mktemp("taken")
    server = PhoneServer(folder / "log.db")
    server.start()
    phone = Phone(chromium, folder / "profile", server)
    fetched: list[str] = []
    try:
        page = phone.start("phone")
        phone.context.on("request", lambda request: fetched.append(request.url))
        page.wait_for_selector("#take-start:visible")
        seen = {"offer": page.inner_text("#take-say"), "phone": phone, "fetched": fetched}
        # No room at first.
        phone.grant(1)
        page.click("#take-start")
        phone.until(lambda: "no room" in page.inner_text("#take-say"), "room was found")
        seen["full"] = page.inner_text("#take-say")
        phone.grant(None)
        fetched.clear()
        # Stopped while the largest part is on its way.
        under_way: list = []
        page.route("**/pyodide.asm.wasm.gz", lambda route: under_way.append(route))  # noqa: PLW0108  -- wants a function
        page.click("#take-start")
        phone.until(lambda: under_way, "the largest part never came")
        page.click("#take-stop")
        page.wait_for_selector("#take-start:visible")
        seen["stopped"] = page.inner_text("#take-say")
        seen["fetched_before"] = [url for url in fetched if url.endswith(".gz")]
        fetched.clear()
        page.unroute("**/pyodide.asm.wasm.gz")
        page.reload()
        page.wait_for_selector("#take-start:visible")
        seen["again"] = page.inner_text("#take-start")
        began = time.monotonic()
        phone.take()
        seen["seconds"] = time.monotonic() - began
        seen["fetched_after"] = [url for url in fetched if url.endswith(".gz")]
        phone.until(lambda: "may ask" not in page.inner_text("#take-kept"), "no promise, or none")
        seen["promised"] = page.inner_text("#take-kept")
        phone.until_line("All sent at")
        phone.until(lambda: page.evaluate(PREPARED), "no copy of the memory was made")
        seen["used"] = page.evaluate("navigator.storage.estimate().then((one) => one.usage)")
    finally:
        phone.stop()
        server.kill()
    return seen


@pytest.fixture
def server(taken, tmp_path):
    """The server of the phone that was taken, with a copy of its log, at the same address."""
    original: PhoneServer = taken["phone"].server
    for ending in (".db", ".db-wal", ".secret"):  # it was killed: its journal is still to be read
        shutil.copy(original.db.with_suffix(ending), tmp_path / f"log{ending}")
    running = PhoneServer(tmp_path / "log.db", original.port)
    running.start()
    yield running
    running.kill()


@pytest.fixture
def phone(taken, server, chromium, tmp_path):
    """The phone in the field, with a profile of its own. Its faults end the test."""
    shutil.copytree(taken["phone"].profile, tmp_path / "profile", symlinks=True)
    found = Phone(chromium, tmp_path / "profile", server)
    yield found
    if found.context is not None:
        found.stop()
    assert found.faults == []


def entries_of(server: PhoneServer) -> list[sqlite3.Row]:
    """What the server's log holds, read with another program's eyes."""
    with closing(sqlite3.connect(server.db)) as conn:
        conn.row_factory = sqlite3.Row
        return conn.execute("SELECT * FROM entries ORDER BY seq").fetchall()
