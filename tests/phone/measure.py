"""Measure a phone's engine in Chromium; prints a column of the table in DEVELOPERS.md.

    python tests/phone/measure.py [CGROUP] [--entries 1 2000 20000] [--server 1000 100000]

It is measured with so many entries on the phone, then with so many on the server and the usual
limits of what a phone takes along.
With the folder of a control group, the whole browser runs in it: that is how it is held to a
share of a CPU. Root makes such a group.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import threading
import time
from contextlib import contextmanager, suppress
from pathlib import Path
from urllib.request import urlopen

from playwright.sync_api import sync_playwright

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from phone.conftest import DROP_MEMORY, READY, Phone
from support.browser_hand import BrowserHand
from support.chromium import launch_options
from support.make_demo import DEMO_JOBS
from support.phone_server import PhoneServer, free_port
from support.processes import browser_process, renderers

from fieldkit.joblog import Entry, JobLog
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


def take(phone: Phone, limits: dict[str, int] | None) -> None:
    """Take it along, with no driver that watches: that would keep all that is fetched in memory."""
    options = launch_options()
    browser = options["executable_path"]
    if phone.group is not None:
        browser = phone._in_group(browser)
    port = free_port()
    words = [
        *(browser, *options["args"], "--headless=new", f"--user-data-dir={phone.profile}"),
        *(f"--remote-debugging-port={port}", f"{phone.base}phone"),
    ]
    running = subprocess.Popen(words, stderr=subprocess.DEVNULL)
    try:
        before = until_title(port, "")
        driven = phone.chromium.connect_over_cdp(f"http://127.0.0.1:{port}")
        page = driven.contexts[0].pages[0]
        page.wait_for_selector("#take-start:visible")
        page.evaluate(BEGIN, [limits, GONE_SECONDS * 1000])
        began = time.monotonic() + GONE_SECONDS
        driven.close()
        with peak(phone) as most:
            until_title(port, before)
            tell("First taking along, until ready", f"{time.monotonic() - began:.1f} s")
            time.sleep(5)
        tell("memory meanwhile, at most", f"{most[0]:.0f} MB")
    finally:
        running.terminate()
        running.wait()


def until_title(port: int, not_this: str) -> str:
    """The title of the browser's page, once it has one that is another; asked from outside."""
    for _ in range(3000):
        time.sleep(0.1)
        with suppress(OSError), urlopen(f"http://127.0.0.1:{port}/json/list") as said:
            titles = [one["title"] for one in json.load(said) if one["type"] == "page"]
            for title in titles:
                if title != not_this and ("fieldkit" in title or title == READY):
                    return title
    raise AssertionError(f"no other title than {not_this!r}")


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


def fill(db: Path, count: int) -> None:
    """A log of so many entries: the demo's jobs again and again, each under a name of its own."""
    jobs = [json.loads(file.read_text())["entries"] for file in sorted(DEMO_JOBS.glob("*.json"))]
    with JobLog.open(db) as log:
        for again in range(1 << 20):
            for job in jobs:
                if log.count() >= count:
                    return
                bodies = [renamed(one, f"{again:06d}") for one in job[: count - log.count()]]
                made = [Entry.from_json(one) for one in bodies]
                log.append(made, [one.at for one in made])


def renamed(body: dict, end: str) -> dict:
    """An entry of another job that is otherwise the same."""
    names = ("id", "job", "joint", "run", "replaces")
    return body | {name: body[name][: -len(end)] + end for name in names if body.get(name)}


def measure(chromium, count: int, limits: dict[str, int] | None, group: str | None) -> None:
    """Take along, then start from each of what the first start left."""
    sys.stdout.write(f"\n{count} entries on the server, {limits or 'usual limits'}\n")
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        fill(folder / "log.db", count)
        server = PhoneServer(folder / "log.db")
        server.start()
        phone = Phone(chromium, folder / "profile", server, group=group)
        take(phone, limits)
        server.kill()
        cold(phone)
        pages(phone)
        phone.page.evaluate(DROP_MEMORY)
        phone.stop()
        cold(phone)
        phone.stop()


#: The driver is gone by then: a service worker that starts while it goes waits for it for ever. [s]
GONE_SECONDS = 2

#: Take it along, and say in the title when it is ready.
BEGIN = """
async ([limits, gone]) => {
  const store = await import("/static/phone/store.js");
  if (limits) await store.keep({ limits });
  const say = document.getElementById("take-say");
  new MutationObserver(() => {
    if (say.textContent.startsWith("Ready")) document.title = say.textContent;
  }).observe(say, { childList: true });
  setTimeout(() => document.getElementById("take-start").click(), gone);
}
"""

ALL = {"days": 36500, "most": 20_000}


def main() -> None:
    """A phone with few entries, with more and with the most; and the usual one of a long log."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("group", nargs="?", help="the folder of a control group")
    parser.add_argument("--entries", type=int, nargs="*", default=[1, 2_000, 20_000])
    parser.add_argument("--server", type=int, nargs="*", default=[1_000, 100_000])
    given = parser.parse_args()
    runtime.fetch(runtime.runtime_folder())
    with sync_playwright() as playwright:
        for count in given.entries:
            measure(playwright.chromium, count, ALL, given.group)
        for count in given.server:
            measure(playwright.chromium, count, None, given.group)


if __name__ == "__main__":
    main()
