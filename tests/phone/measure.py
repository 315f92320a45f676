"""Measure a phone's engine in Chromium; prints a column of the table in DEVELOPERS.md.

    python tests/phone/measure.py [CGROUP]

With the folder of a control group, the whole browser runs in it: that is how it is held to a
share of a CPU. Root makes such a group.
"""

from __future__ import annotations

import os
import sys
import tempfile
import threading
import time
from contextlib import contextmanager, suppress
from pathlib import Path

from playwright.sync_api import sync_playwright

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from phone.conftest import DROP_MEMORY, PREPARED, READY, Phone
from support.browser_hand import BrowserHand
from support.phone_server import PhoneServer
from support.processes import browser_process, renderers

from fieldkit.phone import runtime

PAGES = """
async (job) => {
  const times = [];
  for (let i = 0; i < 300; i++) {
    const path = ["/", "/jobs", job, "/tables/weld-times", "/sources"][i % 5];
    const began = performance.now();
    await (await fetch(path, { headers: { Accept: "text/html" } })).text();
    times.push(performance.now() - began);
  }
  return times;
}
"""

SAVES = """
async (job) => {
  const times = [];
  for (let i = 0; i < 60; i++) {
    const began = performance.now();
    const body = new URLSearchParams({ note: `n${i}` });
    await (await fetch(`${job}/notes`, { method: "POST", body })).text();
    times.push(performance.now() - began);
  }
  return times;
}
"""


def tell(what: str, value: str) -> None:
    """A row of the table."""
    sys.stdout.write(f"| {what} | {value} | load {os.getloadavg()[0]:.0f} |\n")
    sys.stdout.flush()


def memory(phone: Phone) -> float:
    """The largest of the browser's page processes, its share of shared pages counted. [MB]"""
    found = [0.0]
    for pid in renderers(browser_process(phone.profile)):
        with suppress(OSError):
            for line in Path(f"/proc/{pid}/smaps_rollup").read_text().splitlines():
                if line.startswith("Pss:"):
                    found.append(int(line.split()[1]) / 1000)
    return max(found)


@contextmanager
def peak(phone: Phone):
    """Watch the memory meanwhile; what comes holds the highest seen. [MB]"""
    seen, over = [0.0], threading.Event()

    def watch() -> None:
        while not over.wait(0.2):  # looking costs the one looked at
            with suppress(AssertionError):
                seen[0] = max(seen[0], memory(phone))

    watcher = threading.Thread(target=watch)
    watcher.start()
    yield seen
    over.set()
    watcher.join()


def take(phone: Phone) -> None:
    """Take it along, and wait until the next start is prepared."""
    page = phone.start("phone")
    page.wait_for_selector("#take-start:visible")
    began = time.monotonic()
    page.click("#take-start")
    with peak(phone) as most:
        phone.until(lambda: page.inner_text("#take-say") == READY, "not ready", 300)
        tell("First taking along, until ready", f"{time.monotonic() - began:.1f} s")
        phone.until(lambda: page.evaluate(PREPARED), "not prepared", 300)
        tell("until the next start is prepared", f"{time.monotonic() - began:.1f} s")
        page.wait_for_timeout(5000)
    tell("memory meanwhile, at most", f"{most[0]:.0f} MB")
    used = page.evaluate("navigator.storage.estimate().then((one) => one.usage)")
    tell("Kept by the browser", f"{used / 1e6:.0f} MB")
    phone.stop()


def cold(phone: Phone) -> None:
    """Start the browser on a deep link."""
    phone.start()
    with peak(phone) as most:
        began = time.monotonic()
        phone.page.goto(f"{phone.base}tables/weld-times")
        phone.page.wait_for_selector("html:not([data-shell]) main h1", timeout=300_000)
        took = time.monotonic() - began
        how, ms = phone.until_engine().split()
        phone.page.wait_for_timeout(5000)
    tell("Cold start on a deep link, to its page", f"{took:.1f} s")
    tell(f"Engine from {how}", f"{int(ms) / 1000:.1f} s")
    tell("memory while it starts, settled", f"{most[0]:.0f} MB, {memory(phone):.0f} MB")


def pages(phone: Phone) -> None:
    """Pages and saves, one after the other."""
    hand = BrowserHand(phone.page, phone.base)
    job = hand.send(hand.read("/jobs"), "/jobs", name="Measured").path
    for what, script in (("A page", PAGES), ("A save and the page after it", SAVES)):
        times = sorted(phone.page.evaluate(script, job))
        tell(f"{what}, 95th percentile", f"{times[int(len(times) * 0.95)]:.0f} ms")
    tell("memory after that", f"{memory(phone):.0f} MB")


def main() -> None:
    """Take along, then start from each of what the first start left."""
    group = sys.argv[1] if len(sys.argv) > 1 else None
    runtime.fetch(runtime.runtime_folder())
    with tempfile.TemporaryDirectory() as made, sync_playwright() as playwright:
        folder = Path(made)
        server = PhoneServer(folder / "log.db")
        server.start()
        phone = Phone(playwright.chromium, folder / "profile", server, group=group)
        take(phone)
        server.kill()
        cold(phone)
        pages(phone)
        phone.page.evaluate(DROP_MEMORY)
        phone.stop()
        cold(phone)
        phone.stop()


if __name__ == "__main__":
    main()
