"""A page under watch, wherever a test opens it: what is inspected, and what counts as a fault."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlsplit

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page
from support.inspection import inspect_page

#: The kinds of page that axe has looked at in this session.
LOOKED_AT: set[tuple[str, ...]] = set()

ID = re.compile("[0-9a-f]{8}-[0-9a-f-]{27}")

PHONES = {"390x844": (390, 844), "360x640": (360, 640)}

LAYOUT = Path(__file__).resolve().parents[1] / "support" / "layout.js"

#: What the frame of a phone takes of its screen, on its side and upright. [px]
FRAMES = (
    ((844, 390), {"left": 47, "right": 47, "bottom": 21}),
    ((390, 844), {"top": 47, "bottom": 34}),
)


@dataclass
class Server:
    """Where the server answers, and the application behind it."""

    address: str
    app: object

    @property
    def log(self):
        """The job log."""
        return self.app.extensions["joblog"]


class Watched:
    """A page under watch: every new page is inspected, axe looks, no request leaves the host."""

    def __init__(self, page: Page, address: str, *, scripts: bool = True) -> None:
        self.page = page
        self.address = address
        self.scripts = scripts
        self.seen: list[str] = []
        self.faults: list[str] = []
        page.on("request", self._note_request)
        page.on("pageerror", lambda error: self.faults.append(f"script error: {error}"))
        page.on("console", self._note_console)

    def _note_request(self, request) -> None:
        if urlsplit(request.url).scheme in {"http", "https"} and not request.url.startswith(
            self.address
        ):
            self.faults.append(f"a request leaves the host: {request.url}")

    def _note_console(self, message) -> None:
        # A refused answer is a page with status 422, which Chromium also logs as an error.
        if message.type == "error" and "status of 4" not in message.text:
            self.faults.append(f"console: {message.text}")

    def open(self, path: str) -> Watched:
        """Go to a path of this site."""
        self.page.goto(self.address + path)
        return self.look()

    def look(self) -> Watched:
        """Inspect the page as it stands; axe too, once for each kind of page."""
        self.page.wait_for_load_state()
        inspect_page(self.page.content())
        width = self.page.evaluate("document.documentElement.scrollWidth") if self.scripts else 0
        assert width <= self.page.viewport_size["width"], f"{self.page.url} scrolls sideways"
        self.seen.append(self.page.url)
        kind = self.kind_of_page()
        if self.scripts and kind not in LOOKED_AT:
            found = Axe().run(self.page)
            assert found.violations_count == 0, found.generate_report()
            LOOKED_AT.add(kind)
        return self

    def kind_of_page(self) -> tuple[str, ...]:
        """What makes two pages look alike: the address without its ids, the blocks, the look."""
        path = re.sub(ID, "…", urlsplit(self.page.url).path)
        marks = self.page.evaluate(
            "() => [document.documentElement.className,"
            " ...new Set([...document.querySelectorAll('main [class]')]"
            ".map(one => one.className + ''))]"
        ) if self.scripts else []  # fmt: skip
        return (path, *marks)

    def under_the_frame(self) -> list[str]:
        """What lies where the frame of a phone is, in both of its positions."""
        wire, found = self.page.context.new_cdp_session(self.page), []
        self.page.evaluate(f"{LAYOUT.read_text()}\nvoid 0")
        for (width, height), edges in FRAMES:
            self.page.set_viewport_size({"width": width, "height": height})
            wire.send("Emulation.setSafeAreaInsetsOverride", {"insets": edges})
            lies = self.page.evaluate("edges => underEdges(edges)", edges)
            found += [f"{width} px: {one}" for one in lies]
        wire.detach()
        return found

    @property
    def heading(self) -> str:
        """The h1 in words."""
        return " ".join(self.page.locator("h1").inner_text().split())

    def press(self, text: str) -> Watched:
        """Press the button or link with these words."""
        target = self.page.locator(f".act >> text={text}").first
        target.click()
        return self.look()

    def go_on(self) -> Watched:
        """Press the one main button."""
        self.page.locator(".act .main").first.click()
        return self.look()

    def cant_tell(self) -> Watched:
        """Press the way out."""
        self.page.locator('button[value="cant-tell"]').click()
        return self.look()

    def choose(self, value: str) -> Watched:
        """Pick one of the options and go on: by its tile at once, else by its row."""
        tile = self.page.locator(f'button.tile[value="{value}"]')
        if tile.count():
            tile.first.click()
            return self.look()
        self.page.locator(f'input[value="{value}"] + label').click()
        return self.go_on()

    def fill(self, **boxes: str) -> Watched:
        """Fill boxes (``value``, ``value__0``, ``value__pressure``) and go on."""
        for name, text in boxes.items():
            self.page.fill(f'[name="{name.replace("__", "-")}"]', text)
        return self.go_on()

    def check(self) -> None:
        """Fail with all that was seen going wrong."""
        assert not self.faults, "\n".join(self.faults)
