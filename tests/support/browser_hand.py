"""A person's hand on real pages: the same calls as ``Hand``, made in a browser."""

from __future__ import annotations

#: Set on a page before a button is pressed; it is gone when the next page has come.
OLD = "data-old"


class Seen:
    """A page as it is now on the screen, with what a scenario asks of it."""

    def __init__(self, page) -> None:
        self.path = page.evaluate("location.pathname")
        self.html = page.content()
        self.words = " ".join(page.inner_text("body").split())
        self.heading = page.inner_text("h1").split("\n")[0].strip()
        self.status = 422 if "something needs fixing" in page.title() else 200


class BrowserHand:
    """Presses the buttons of the pages that a browser shows."""

    def __init__(self, page, base: str) -> None:
        self.page = page
        self.base = base.rstrip("/")

    def read(self, path: str) -> Seen:
        """Go to a page as a link does: the document stays, and with it the engine."""
        while not self.page.evaluate("Boolean(window.Turbo)"):
            self.page.wait_for_timeout(20)
        self._mark()
        self.page.evaluate("path => window.Turbo.visit(path)", self.base + path)
        self._wait()
        return Seen(self.page)

    def send(self, seen: Seen, /, end: str = "", button: str | None = None, **fields) -> Seen:
        """Fill the form and press its button, as ``Hand.send``."""
        self.unfold()
        form = self.page.locator("main form[method=post]")
        if button is not None:
            form = form.filter(has=self.page.locator(f'button[value="{button}"]'))
        elif end:
            form = self.page.locator(f'main form[method=post][action$="{end}"]')
        form = form.first
        pressed = None
        for key, value in fields.items():
            name = key.replace("__", "-")
            if name in {"answer", "pick", "what"}:
                if pressed is not None:
                    continue
                pressed = form.locator(
                    f'button[name="{name}"][value="{value}"]:not(.unseen):visible'
                ).first
                continue
            button_of = form.locator(f'button[name="{name}"][value="{value}"]:not(.unseen)')
            if isinstance(value, str) and button_of.count():
                pressed = button_of.first
                continue
            for one in value if isinstance(value, list) else [value]:
                self._fill(form, name, one)
        self._mark()
        (pressed or form.locator("button:not(.unseen):visible").first).click()
        self._wait()
        return Seen(self.page)

    def unfold(self) -> None:
        """Open what is folded away."""
        self.page.evaluate(
            "for (const one of document.querySelectorAll('main details')) one.open = true"
        )

    def _fill(self, form, name: str, value: str) -> None:
        boxes = form.locator(f'[name="{name}"]')
        kind = boxes.first.get_attribute("type")
        if kind in {"radio", "checkbox"}:
            box = form.locator(f'[name="{name}"][value="{value}"]')
            # As a person does: away from the bar at the bottom edge first.
            box.evaluate("box => box.scrollIntoView({block: 'center'})")
            box.check(force=True)
        elif kind == "file":
            boxes.first.set_input_files(value)
        elif kind == "hidden":
            boxes.first.evaluate("(box, value) => { box.value = value }", value)
        else:
            boxes.first.fill(value)

    def _mark(self) -> None:
        self.page.evaluate(f"document.body.setAttribute('{OLD}', '')")

    def _wait(self) -> None:
        self.page.wait_for_selector(f"body:not([{OLD}]) main h1", timeout=60_000)
        self.page.wait_for_selector("html:not([aria-busy])", state="attached")
