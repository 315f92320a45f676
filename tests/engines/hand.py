"""A person's hand on pages that Firefox or WebKit shows: the same calls as ``BrowserHand``."""

from __future__ import annotations

import time
from contextlib import suppress
from pathlib import Path

#: Finds the form, fills it, and gives the button to press.
FILL = r"""
const [end, button, given, files] = arguments;
for (const one of document.querySelectorAll("main details")) one.open = true;
const forms = [...document.querySelectorAll("main form[method=post]")];
const wanted = (one) =>
  button === null
    ? one.getAttribute("action").endsWith(end)
    : one.querySelector(`button[value="${button}"]`);
const form = forms.find(wanted);
if (!form) throw new Error(`no form for ${end} ${button} on ${location}`);
const seen = (one) => !one.classList.contains("unseen") && one.getClientRects().length;
let pressed = null;
for (const [key, value] of Object.entries(given)) {
  const name = key.replaceAll("__", "-");
  const named = [...form.elements].filter((one) => one.name === name);
  const buttons = named.filter((one) => one.type === "submit" && one.value === value && seen(one));
  if (["answer", "pick", "what"].includes(name)) {
    pressed ??= buttons[0];
    continue;
  }
  if (buttons.length) {
    pressed = buttons[0];
    continue;
  }
  for (const one of Array.isArray(value) ? value : [value]) {
    const box = named.find((box) => !["radio", "checkbox"].includes(box.type) || box.value === one);
    if (!box) throw new Error(`no box ${name} ${one} on ${location}`);
    if (["radio", "checkbox"].includes(box.type)) box.checked = true;
    else box.value = one;
    for (const event of ["input", "change"]) box.dispatchEvent(new Event(event, { bubbles: true }));
  }
}
pressed ??= [...form.elements].find((one) => one.type === "submit" && seen(one));
pressed.scrollIntoView({ block: "center" });
return [pressed, files && form.querySelector("input[type=file]")];
"""


def going() -> tuple[type[Exception], ...]:
    """What a driver says when the page that it was asked about is gone meanwhile."""
    from selenium.common import exceptions

    return (
        exceptions.NoSuchElementException,
        exceptions.NoSuchFrameException,
        exceptions.StaleElementReferenceException,
    )


class Seen:
    """A page as it is now on the screen, with what a scenario asks of it."""

    def __init__(self, driver) -> None:
        self.path = driver.execute_script("return location.pathname")
        self.html = driver.page_source
        self.words = " ".join(driver.find_element("tag name", "body").text.split())
        self.heading = driver.find_element("tag name", "h1").text.split("\n")[0].strip()
        self.status = 422 if "something needs fixing" in driver.title else 200


class SeleniumHand:
    """Presses the buttons of the pages that a driver shows."""

    def __init__(self, driver, base: str) -> None:
        self.driver = driver
        self.base = base.rstrip("/")

    def read(self, path: str) -> Seen:
        """Go to a page by its address."""
        self.driver.get(self.base + path)
        return self.seen()

    def send(self, seen: Seen, /, end: str = "", button: str | None = None, **fields) -> Seen:
        """Fill the form and press its button, as ``Hand.send``."""
        photo = fields.pop("photo", None)
        pressed, box = self.driver.execute_script(FILL, end, button, fields, photo is not None)
        if photo is not None:
            box.send_keys(str(Path(photo)))
        self.leave(pressed.click)
        return self.seen()

    def leave(self, act) -> None:
        """Do what leads to another page, and wait until this one is gone."""
        old = self.driver.find_element("css selector", "main")
        with suppress(*going()):
            act()
        self.until(lambda: self._is_gone(old), "the page stays")

    def _is_gone(self, old) -> bool:
        try:
            return not self.driver.execute_script("return arguments[0].isConnected", old)
        except going():
            return True

    def seen(self) -> Seen:
        """The page, when all of it is there."""
        return self.until(lambda: self._is_there() and Seen(self.driver), "no page came")

    def _is_there(self) -> bool:
        there = "html:not([data-shell]):not([aria-busy]) main h1"
        found = self.driver.find_elements("css selector", there)
        return (
            bool(found) and self.driver.execute_script("return document.readyState") == "complete"
        )

    def until(self, ask, what: str, seconds: float = 120.0):
        """Wait until ``ask`` says something true."""
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            with suppress(*going()):
                if found := ask():
                    return found
            time.sleep(0.03)
        words = self.driver.find_element("tag name", "body").text
        raise AssertionError(f"{what}, after {seconds} s: {self.driver.current_url} {words[:600]}")
