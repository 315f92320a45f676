"""What waits for what never comes: the browser's store, the network, a lock of its own."""

from __future__ import annotations

import time

import pytest
from support.chromium import launch_options

pytestmark = pytest.mark.browser

#: Longer than anything here waits. [ms]
LONG_MS = 31_000

#: Hold the phone's store in a transaction that does not end until it is let go.
HOLD_STORE = """
async () => {
  await (await import("/static/phone/store.js")).keep({ there: true });
  const opened = await new Promise((resolve) => {
    const asked = indexedDB.open("fieldkit", 1);
    asked.onsuccess = () => resolve(asked.result);
  });
  const entries = opened.transaction("kept", "readwrite").objectStore("kept");
  let held = true;
  const on = () => held && (entries.get("there").onsuccess = on);
  on();
  window.letGo = () => (held = false);
}
"""

KEEP = """
() => {
  window.said = "";
  import("/static/phone/store.js")
    .then((store) => store.keep({ more: 1 }))
    .then(() => (window.said = "kept"), (error) => (window.said = error.name));
}
"""

#: The worker that fetches, here in the page, whose clock can be turned: a part that never comes.
FETCH = """
async (part) => {
  await import("/static/phone/fetch.js");
  const ask = self.onmessage;
  self.onmessage = null;
  addEventListener("message", ({ data }) => (window.said = data.name ?? data.type));
  window.said = "";
  ask({ data: { about: { version: "none", parts: [part] } } });
}
"""

#: Another holds the lock and says nothing. It lets go in the very moment in which the tab that
#: waits for it has looked who holds it: the tab gets the lock, and takes it from itself.
TAKES_ITS_OWN_LOCK = """
async () => {
  let letGo;
  navigator.locks.request("fieldkit-engine", () => new Promise((resolve) => (letGo = resolve)));
  const query = navigator.locks.query.bind(navigator.locks);
  navigator.locks.query = async () => {
    const found = await query();
    letGo();
    return found;
  };
  window.working = 0;
  window.Worker = class {
    constructor() { window.working += 1; }
    terminate() { window.working -= 1; }
    postMessage() {}
  };
  const lead = await import("/static/phone/lead.js");
  window.stood = [];
  lead.seekLead({ start_seconds: 60 }, (how) => window.stood.push(how));
}
"""

HOLDS = """
async () => {
  const { held, pending } = await navigator.locks.query();
  return { held: held.length, pending: pending.length, working, standing: stood.at(-1) };
}
"""


@pytest.fixture
def page(server, chromium):
    """A page of the server whose clock can be turned."""
    browser = chromium.launch(**launch_options())
    found = browser.new_page()
    found.clock.install()
    found.goto(f"{server.address}/sources")
    yield found
    browser.close()


def until(page, expression: str, also=lambda: True) -> None:
    """Wait until the page finds it true; its policy lets nothing wait there by itself."""
    for _ in range(600):
        if page.evaluate(expression) and also():
            return
        time.sleep(0.05)
    raise AssertionError(f"{expression} is not true")


def test_a_store_and_a_network_that_are_silent_are_given_up_after_30_s(page):
    page.evaluate(HOLD_STORE)
    page.evaluate(KEEP)
    page.clock.run_for(LONG_MS - 2000)
    assert page.evaluate("said") == ""
    page.clock.run_for(2000)
    until(page, "said === 'Silent'")
    page.evaluate("letGo()")
    page.evaluate(KEEP)
    until(page, "said === 'kept'")

    came: list = []
    page.route("**/phone/none.gz", lambda route: came.append(route))  # noqa: PLW0108  -- wants a function
    page.evaluate(FETCH, {"place": "phone/none", "size": 9, "sha256": "", "type": "text/plain"})
    until(page, "true", lambda: came)
    page.clock.run_for(LONG_MS)
    until(page, "said === 'silent'")
    came[0].abort()


def test_a_browser_that_never_says_whether_it_takes_the_tool_is_given_up_after_60_s(page, server):
    page.add_init_script("ServiceWorkerContainer.prototype.register = () => new Promise(() => {})")
    fetched: list[str] = []
    page.on("request", lambda request: fetched.append(request.url))
    page.goto(f"{server.address}/phone")
    page.click("#take-start:visible")
    page.wait_for_selector("#take-say:text-is('Fetching …')")
    assert not page.is_visible("#take-start"), "it would begin twice"
    page.clock.run_for(55_000)
    assert page.inner_text("#take-say") == "Fetching …"
    page.clock.run_for(6000)
    page.wait_for_selector("#take-start:visible:text-is('Go on fetching')")
    assert page.inner_text("#take-say") == (
        "It broke off: the browser does not say whether it takes the tool; close its other tabs,"
        " then go on. What was fetched stays here."
    )
    assert not [url for url in fetched if url.endswith(".gz")]


def test_a_tab_that_takes_the_lock_from_itself_goes_on_leading(page):
    page.evaluate(TAKES_ITS_OWN_LOCK)
    page.clock.run_for(5000)
    until(page, "stood.at(-1) === 'starting'")
    page.clock.run_for(5000)
    assert page.evaluate(HOLDS) == {"held": 1, "pending": 0, "working": 1, "standing": "starting"}
