"""Nothing that a page called saved is lost: tabs, browsers, disks and versions may fail."""

from __future__ import annotations

import json
import os
import random
import signal
import time
from pathlib import Path

import pytest
from phone.conftest import Phone, entries_of
from support.browser_hand import BrowserHand
from support.entries import NOW, entry
from support.processes import browser_process, renderers

from fieldkit.joblog import JobLog

pytestmark = pytest.mark.browser

DAY_S = 86_400

SAVES = 100

#: Saves notes as a form does, one after the other, and says each as soon as it was answered.
SAVER = """
async ([job, from]) => {
  for (let n = from; ; n++) {
    const body = new URLSearchParams({ note: `save ${n}` });
    const answer = await fetch(`${job}/notes`, { method: "POST", body });
    if (answer.ok && answer.redirected) window.heard(n);
  }
}
"""


def new_job(phone: Phone, name: str = "Long Meadow") -> str:
    """Make a job by its form; its address."""
    hand = BrowserHand(phone.page, phone.base)
    hand.send(hand.read("/jobs"), "/jobs", name=name)
    return phone.page.evaluate("location.pathname")


def notes_of(server) -> list[str]:
    return [row["note"] for row in entries_of(server) if row["kind"] == "note"]


def send_all(phone: Phone) -> None:
    phone.exchange()
    phone.until_line("All sent at")


def open_engine(phone: Phone, path: str = "jobs", **how) -> None:
    """Start the browser on a page and wait for its engine."""
    phone.start(path, **how)
    phone.page.wait_for_selector("html:not([data-shell]) main h1")
    phone.until_engine()


def leading_renderer(phone: Phone) -> int:
    """The process of the tab that leads: of those that show pages, the one with an engine in it."""
    pages = renderers(browser_process(phone.profile))
    return max(pages, key=lambda pid: int(Path(f"/proc/{pid}/statm").read_text().split()[1]))


def test_nothing_acknowledged_is_missing_after_kills_at_random(phone: Phone):
    """100 saves; again and again the tab's process or the whole browser is killed in the middle."""
    chance = random.Random(5)  # noqa: S311  -- when to kill, no secret
    phone.server.kill()
    open_engine(phone)
    job = new_job(phone)
    heard: list[int] = []
    kills = 0
    while len(heard) < SAVES:
        enough = len(heard) + chance.randint(10, 25)
        phone.page.expose_function("heard", lambda n: heard.append(n))  # noqa: PLW0108  -- wants a function
        phone.page.evaluate(f"void ({SAVER})(['{job}', {1000 * kills}])")
        phone.until(lambda n=enough: len(heard) >= n, "nothing is saved any more")
        time.sleep(chance.uniform(0, 0.08))
        kills += 1
        if kills % 2:
            with phone.page.expect_event("crash"):
                os.kill(leading_renderer(phone), signal.SIGKILL)
            phone.page = phone.watch(phone.context.new_page())
            phone.page.goto(phone.base.rstrip("/") + job)
            phone.page.wait_for_selector("html:not([data-shell]) main h1")
            phone.until_engine()
        else:
            os.kill(browser_process(phone.profile), signal.SIGKILL)
            time.sleep(0.3)
            open_engine(phone, job.lstrip("/"))
    assert kills >= 4
    phone.server.start()
    send_all(phone)
    kept = notes_of(phone.server)
    assert len(kept) == len(set(kept)), "a save was doubled"
    assert {f"save {n}" for n in heard} <= set(kept)
    # What was under way at a kill may be there or not; nothing else is.
    assert len(set(kept) - {f"save {n}" for n in heard}) <= kills


def test_two_tabs_share_one_engine_and_the_second_takes_over(phone: Phone):
    open_engine(phone, offline=True)
    job = new_job(phone)
    first = phone.page
    second = phone.watch(phone.context.new_page())
    second.goto(phone.base.rstrip("/") + job)
    second.wait_for_selector("html:not([data-shell]) main h1")
    assert second.evaluate("document.documentElement.dataset.engine ?? ''") != "ready"
    hand = BrowserHand(second, phone.base)
    hand.send(hand.read(job), "/notes", note="from the second tab")
    assert "from the second tab" in BrowserHand(first, phone.base).read(job).words
    first.close()
    phone.page = second
    phone.until_engine()
    assert "from the second tab" in hand.read(job).words
    hand.send(hand.read(job), "/notes", note="after the first was closed")
    phone.context.set_offline(False)
    send_all(phone)
    assert notes_of(phone.server) == ["from the second tab", "after the first was closed"]


def test_a_frozen_tab_loses_the_lead_to_one_that_is_looked_at(phone: Phone):
    open_engine(phone, offline=True)
    job = new_job(phone)
    frozen = phone.page
    frozen.evaluate("void setTimeout(() => { for (;;); })")
    phone.page = phone.watch(phone.context.new_page())
    phone.page.goto(phone.base.rstrip("/") + job)
    phone.until_engine()
    phone.page.wait_for_selector("html:not([data-shell]) main h1")
    assert phone.heading() == "Long Meadow"
    os.kill(browser_process(phone.profile), signal.SIGKILL)  # the frozen tab would not let it close
    phone.context = None


def test_a_full_disk_is_refused_plainly_and_what_was_typed_stays(phone: Phone):
    """The browser itself grants no more room, then some again."""
    phone.server.kill()
    phone.start()
    phone.grant(1)  # before anything is written: the browser looks for room only now and then
    phone.page.goto(f"{phone.base}jobs")
    phone.page.wait_for_selector("html:not([data-shell]) main h1")
    phone.until_engine()
    hand = BrowserHand(phone.page, phone.base)
    hand.unfold()
    phone.page.fill("[name=name]", "Long Meadow")
    phone.page.click("main form[method=post][action$='/jobs'] button")
    phone.page.wait_for_selector("#no-room")
    assert "Not saved: this phone has no room left." in phone.page.inner_text("#no-room")
    assert phone.page.input_value("[name=name]") == "Long Meadow"
    assert "Long Meadow" not in hand.read("/jobs").words, "it is shown as if it were saved"
    phone.grant(None)
    new_job(phone, "There is room again")
    phone.server.start()
    send_all(phone)
    assert [row["kind"] for row in entries_of(phone.server)] == ["job"]


def test_a_form_sent_while_no_engine_runs_is_held_until_one_does(phone: Phone):
    """A plain form, sent by a page that just came back: the engine is not there to take it."""
    open_engine(phone, offline=True)
    job = new_job(phone)
    phone.page.evaluate(
        """job => {
          const form = document.createElement("form");
          Object.assign(form, { method: "post", action: `${job}/notes` });
          form.dataset.turbo = "false";
          form.innerHTML = '<input name="note" value="held for a moment">';
          document.body.append(form);
        }""",
        job,
    )
    phone.page.evaluate("import('/static/phone/lead.js').then((one) => one.stopLead())")
    phone.page.evaluate("document.querySelector('[data-turbo=false]').submit()")
    phone.page.wait_for_selector("text=held for a moment")
    assert phone.page.evaluate("location.pathname") == job
    phone.context.set_offline(False)
    send_all(phone)
    assert notes_of(phone.server) == ["held for a moment"]


def test_the_browser_sends_in_the_background_when_it_may(phone: Phone):
    """The service worker is told to sync while no page runs a timer for it."""
    phone.server.kill()
    open_engine(phone)
    new_job(phone)
    phone.until_line("1 to send.")
    phone.page.goto("about:blank")
    phone.server.start()
    session = phone.context.new_cdp_session(phone.page)
    found: list[str] = []
    session.on(
        "ServiceWorker.workerRegistrationUpdated",
        lambda event: found.extend(
            one["registrationId"] for one in event["registrations"] if not one["isDeleted"]
        ),
    )
    session.send("ServiceWorker.enable")
    phone.until(lambda: found, "no service worker")
    session.send(
        "ServiceWorker.dispatchSyncEvent",
        {
            "origin": phone.server.address,
            "registrationId": found[0],
            "tag": "fieldkit",
            "lastChance": False,
        },
    )
    phone.until(lambda: entries_of(phone.server), "nothing was sent")
    assert [row["kind"] for row in entries_of(phone.server)] == ["job"]


def test_what_the_server_refuses_stays_with_its_reason(phone: Phone):
    open_engine(phone)
    refused = {"id": "01a21242-e178-7000-95aa-227c168077ed", "at": "yesterday", "job": "j"}
    phone.page.evaluate(
        "text => import('/static/phone/store.js').then((store) => store.addOwn([text]))",
        json.dumps({**refused, "kind": "note"}),
    )
    send_all(phone)
    phone.until_line("1 refused: see why")
    phone.page.click("#signal a")
    phone.page.wait_for_selector("#kept-refused li")
    assert "This is not a time as the log writes it." in phone.page.inner_text("#kept-refused")
    assert entries_of(phone.server) == []


def test_an_update_is_offered_and_takes_nothing_that_is_unsent(phone: Phone):
    open_engine(phone, offline=True)
    job = new_job(phone)
    phone.server.kill()
    phone.server.start(newer=True)
    phone.context.set_offline(False)
    send_all(phone)
    phone.until_line("A newer version can be fetched")
    phone.context.set_offline(True)
    hand = BrowserHand(phone.page, phone.base)
    hand.send(hand.read(job), "/notes", note="unsent while updating")
    # A server in trouble takes nothing meanwhile, and the line never says two things at once.
    phone.context.route("**/phone/send?*", lambda route: route.fulfill(status=500))
    phone.context.set_offline(False)
    phone.until_line("The server does not answer as it should.")
    assert "1 to send" in phone.line()
    assert "sent at" not in phone.line()
    hand.read("/phone")
    phone.page.evaluate("document.documentElement.id = 'older'")
    phone.page.click("#take-update:visible")
    phone.page.wait_for_selector("html:not(#older)", state="attached")
    phone.until_engine()
    assert "unsent while updating" in BrowserHand(phone.page, phone.base).read(job).words
    assert notes_of(phone.server) == []
    phone.context.unroute("**/phone/send?*")
    send_all(phone)
    assert "newer" not in phone.line()
    # The sign-in page of a network answers for everything.
    phone.context.route("**/phone/about.json", lambda route: route.fulfill(body="<h1>Pay</h1>"))
    phone.page.evaluate("window.dispatchEvent(new Event('online'))")
    phone.until_line("All was sent at")
    assert "Something else answers at the server’s address" in phone.line()
    assert "No signal" not in phone.line()
    assert notes_of(phone.server) == ["unsent while updating"]
    caches = phone.page.evaluate("caches.keys()")
    assert len(caches) == 2, "the older version still takes room"


def test_clearing_the_phone_asks_first_while_entries_are_unsent(phone: Phone):
    phone.server.kill()
    open_engine(phone)
    new_job(phone)
    hand = BrowserHand(phone.page, phone.base)
    hand.read("/phone")
    phone.page.wait_for_selector("#forget:visible")
    phone.page.click("#forget")
    phone.page.wait_for_selector("#forget-ask:visible")
    assert phone.page.inner_text("#forget-ask").startswith("On this phone only: 1 entry.")
    phone.server.start()
    phone.page.click("#forget")
    phone.page.wait_for_selector("#take-start:visible")
    assert phone.page.evaluate("caches.keys()") == []
    workers = phone.page.evaluate("navigator.serviceWorker.getRegistrations()")
    assert workers == []
    kept = phone.page.evaluate("import('/static/phone/store.js').then((store) => store.counts())")
    assert kept == {"all": 0, "toSend": 0, "notTaken": 0}


def test_open_and_recent_jobs_come_along_and_the_rest_when_it_is_wanted(phone: Phone):
    """An old finished job stays on the server, and comes whole once somebody works on it."""
    with JobLog.open(phone.server.db) as log:
        for job, name, at in (("old", "Finished long ago", 0), ("new", "Still open", 500 * DAY_S)):
            made = [entry(at + n, job=job, note=f"{job} note {n}") for n in range(5)]
            log.append([entry(at, "job", job=job, understood={"name": name}), *made], NOW)
        log.append([entry(9, "close", job="old", understood={"closed": True})], NOW)
    open_engine(phone)
    hand = BrowserHand(phone.page, phone.base)
    phone.until(lambda: "Still open" in hand.read("/jobs").words, "the open job did not come")
    phone.until(lambda: "1 more are on the server" in hand.read("/jobs").words, "nothing is said")
    assert "1 more are on the server" in hand.read("/job/old").words
    hand.read("/phone")
    phone.until(lambda: phone.page.is_visible("#limits"), "no limits to change")
    assert phone.page.input_value("#limits-days") == "90"

    # Somebody works on it: all of it comes, not only what is new.
    with JobLog.open(phone.server.db) as log:
        log.append([entry(500 * DAY_S + 60, job="old", note="touched again")], NOW)
    phone.page.evaluate("window.dispatchEvent(new Event('online'))")
    phone.until(lambda: "touched again" in hand.read("/job/old").words, "it did not come")
    page = hand.read("/job/old")
    assert page.heading == "Finished long ago"
    assert all(f"old note {n}" in page.words for n in range(5))

    # The newest alone, by the size that a person chose: what is left out takes no room.
    with JobLog.open(phone.server.db) as log:
        log.append([entry(600 * DAY_S + n, job="big", note="n") for n in range(200)], NOW)
    hand.read("/phone")
    phone.page.fill("#limits-most", "100")
    phone.page.click("#limits button")
    phone.until(
        lambda: "Jobs on the server only: 2" in phone.page.inner_text("#limits-say"), "no limit"
    )
    phone.until(
        lambda: "Kept here: 200 entries" in phone.page.inner_text("#kept-say"), "all of it stays"
    )
    phone.page.reload()
    phone.until_engine()
    assert "1 more" not in hand.read("/jobs").words
    assert "more are on the server" in hand.read("/job/old").words
