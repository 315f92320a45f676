"""Two ways to work a page: by touch, and by keyboard alone."""

from __future__ import annotations

from typing import Any

TOUCH_TARGET_PX = 44


class Touch:
    """Taps what it sees; works with scripts off, too."""

    def __init__(self, watched: Any) -> None:
        self.watched = watched
        self.page = watched.page

    def tap(self, target: Any) -> None:
        """Tap, and look at what came of it."""
        target.scroll_into_view_if_needed()
        box = target.bounding_box()
        assert box is not None
        assert box["height"] >= TOUCH_TARGET_PX, f"{target.inner_text()!r} is too low to tap"
        with self.page.expect_navigation():
            target.tap()
        self.watched.look()

    def press(self, name: str) -> None:
        """Press the button or link with these words."""
        self.tap(self.page.locator("main button, main a").get_by_text(name, exact=True).first)

    def press_first_card(self) -> None:
        """Take the first way on offer."""
        self.tap(self.page.locator(".card button").first)

    def fill_in(self, box: str, text: str, button: str) -> None:
        """Fill one box of a plain form and press its button."""
        self.page.fill(f'[name="{box}"]', text)
        self.tap(self.page.get_by_role("button", name=button))

    def give(self, value: Any) -> None:
        """Answer the question on the page."""
        page = self.page
        if value is None:
            return self.tap(page.locator('button[value="cant-tell"]'))
        if isinstance(value, list) and isinstance(value[0], dict):
            for reading in value:
                for name, text in reading.items():
                    page.fill(f'[name="value-{name}"]', text)
                self.tap(page.locator('.act button[value="add"]'))
            return self.tap(page.locator('.act button[value="finish"]'))
        if isinstance(value, dict):
            for name, text in value.items():
                page.fill(f'[name="value-{name}"]', text)
        elif value is not True and page.locator(".pick").count():
            for one in value if isinstance(value, list) else [value]:
                page.locator(f'input[value="{one}"] + label').tap()
        elif isinstance(value, list):
            for n, text in enumerate(value):
                page.fill(f'[name="value-{n}"]', text)
        elif value is not True:
            page.fill('[name="value"]', value)
        return self.tap(page.locator(".act .main"))


class Keys:
    """No pointer at all: Tab, arrows, Space, Enter and typing."""

    def __init__(self, watched: Any) -> None:
        self.watched = watched
        self.page = watched.page

    def focus(self, selector: str) -> None:
        """Tab until the thing has the focus, which must be seen; a trap is a failure."""
        target = self.page.locator(selector).first
        for _ in range(120):
            if target.evaluate("one => one === document.activeElement"):
                shown = target.evaluate("one => one.matches(':focus-visible')")
                assert shown, f"the focus on {selector} cannot be seen"
                return
            self.page.keyboard.press("Tab")
        raise AssertionError(f"Tab never comes to {selector}")

    def enter(self) -> None:
        """Press Enter and look at what came of it."""
        with self.page.expect_navigation():
            self.page.keyboard.press("Enter")
        self.watched.look()

    def press(self, name: str) -> None:
        """Press the button or link with these words."""
        target = self.page.locator("main button, main a").get_by_text(name, exact=True).first
        target.evaluate("one => one.closest('a, button').setAttribute('data-aim', '')")
        self.focus("[data-aim]")
        self.enter()

    def press_first_card(self) -> None:
        """Take the first way on offer."""
        self.focus(".card button")
        self.enter()

    def fill_in(self, box: str, text: str, button: str) -> None:
        """Fill one box of a plain form and send it with Enter."""
        self.focus(f'[name="{box}"]')
        self.page.keyboard.type(text)
        self.enter()

    def give(self, value: Any) -> None:  # noqa: PLR0912  -- one branch a kind of answer
        """Answer the question on the page."""
        page = self.page
        if value is None:
            self.focus('button[value="cant-tell"]')
        elif isinstance(value, list) and isinstance(value[0], dict):
            for reading in value:
                for name, text in reading.items():
                    self.focus(f'[name="value-{name}"]')
                    page.keyboard.type(text)
                self.enter()
            self.focus('.act button[value="finish"]')
        elif isinstance(value, dict):
            for name, text in value.items():
                self.focus(f'[name="value-{name}"]')
                page.keyboard.type(text)
        elif value is True:
            self.focus(".act .main")
        elif page.locator('.pick input[type="checkbox"]').count():
            for one in value:
                self.focus(f'.pick input[value="{one}"]')
                page.keyboard.press("Space")
        elif page.locator(".pick").count():
            self.focus(".pick input")
            page.keyboard.press("Space")
            for _ in range(20):
                if page.locator(f'.pick input[value="{value}"]').is_checked():
                    break
                page.keyboard.press("ArrowDown")
        elif isinstance(value, list):
            for n, text in enumerate(value):
                self.focus(f'[name="value-{n}"]')
                page.keyboard.type(text)
        else:
            self.focus('[name="value"]')
            page.keyboard.type(value)
        self.enter()
