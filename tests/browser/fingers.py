"""Two ways to work a page: by touch, and by keyboard alone."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Mapping
from typing import Any

TOUCH_TARGET_PX = 48


class Fingers(ABC):
    """What both ways have in common: they see what is asked, and answer all of it."""

    def __init__(self, watched: Any) -> None:
        self.watched = watched
        self.page = watched.page

    def asked(self) -> list[str]:
        """The steps that the page asks, in the order they stand."""
        marked = self.page.locator("main [data-question]").all()
        names = [one.get_attribute("data-question").split(".", 1)[1] for one in marked]
        return list(dict.fromkeys(names))

    def answer(self, answers: Mapping[str, Any]) -> list[str]:
        """Answer each question of the page, and send it; what was asked.

        Where several stand on a page, one that is answered None stays empty.
        """
        asked = self.asked()
        if len(asked) == 1:
            self.give(answers[asked[0]])
            return asked
        ends = self.page.locator(".act__asks[data-question]")
        last = asked.pop() if ends.count() else ""  # answered by the buttons at the edge
        for step in asked:
            if (value := answers[step]) not in (None, True):
                self.put(value, f"{step}.")
        if last:
            self.choose(f'.act__asks button[value="{answers[last]}"]')
        else:
            self.go_on()
        return asked

    def put(self, value: Any, at: str = "") -> None:
        """Put an answer into the boxes or beside the options of a step."""
        page = self.page
        if page.locator(f'input[name="{at}value"]:is([type=radio], [type=checkbox])').count():
            for one in value if isinstance(value, list) else [value]:
                self.pick(f'input[name="{at}value"][value="{one}"]')
        elif isinstance(value, dict):
            for name, text in value.items():
                self.write(f'[name="{at}value-{name}"]', text)
        elif isinstance(value, list):
            for n, text in enumerate(value):
                self.write(f'[name="{at}value-{n}"]', text)
        else:
            self.write(f'[name="{at}value"]', value)

    @abstractmethod
    def pick(self, option: str) -> None:
        """Choose an option that stays on the page."""

    @abstractmethod
    def write(self, box: str, text: str) -> None:
        """Type into a box, unfolding it first where it is folded away."""

    @abstractmethod
    def give(self, value: Any) -> None:
        """Answer the one question on the page, and send it."""

    @abstractmethod
    def go_on(self) -> None:
        """Send what was put."""

    @abstractmethod
    def choose(self, button: str) -> None:
        """Press the button that answers and sends."""


class Touch(Fingers):
    """Taps what it sees; works with scripts off, too."""

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
        self.tap(self.page.locator(".card button, .card__brief").first)

    def fill_in(self, box: str, text: str, button: str) -> None:
        """Fill one box of a plain form and press its button."""
        self.page.fill(f'[name="{box}"]', text)
        self.tap(self.page.get_by_role("button", name=button))

    def pick(self, option: str) -> None:
        """Tap the row of an option, unfolding it first where it is folded away."""
        label = self.page.locator(f"{option} + label")
        if not label.is_visible():
            label.locator("xpath=ancestor::details[not(@open)]/summary").tap()
        label.tap()

    def write(self, box: str, text: str) -> None:
        """Fill a box."""
        target = self.page.locator(box)
        if not target.is_visible():
            target.locator("xpath=ancestor::details[not(@open)]/summary").tap()
        target.fill(text)

    def go_on(self) -> None:
        """Tap the main action."""
        self.tap(self.page.locator(".act .main"))

    def choose(self, button: str) -> None:
        """Tap the button that answers and sends."""
        self.tap(self.page.locator(button))

    def give(self, value: Any) -> None:
        """Answer the question on the page."""
        page = self.page
        if value is None:
            return self.tap(page.locator('button[value="cant-tell"]'))
        if isinstance(value, list) and value and isinstance(value[0], dict):
            for reading in value[:-1]:
                self.put(reading)
                self.tap(page.locator('button[value="add"]:not(.unseen)'))
            self.put({key: one for key, one in value[-1].items() if key != "seen"})
            return self.choose(f'button[name="seen"][value="{value[-1]["seen"]}"]')
        if page.locator("button.tile").count():
            return self.tap(page.locator(f'button.tile[value="{value}"]'))
        if value is not True:
            self.put(value)
        return self.go_on()


class Keys(Fingers):
    """No pointer at all: Tab, arrows, Space, Enter and typing."""

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
        self.focus(".card button, .card__brief")
        self.enter()

    def fill_in(self, box: str, text: str, button: str) -> None:
        """Fill one box of a plain form and send it with Enter."""
        self.focus(f'[name="{box}"]')
        self.page.keyboard.type(text)
        self.enter()

    def pick(self, option: str) -> None:
        """Space for a box to tick, arrows within a group of which one is chosen."""
        self.unfold(self.page.locator(option))
        name = option.split("[value=", 1)[0]
        if self.page.locator(option).get_attribute("type") == "checkbox":
            self.focus(option)
            return self.page.keyboard.press("Space")
        self.focus(name)
        self.page.keyboard.press("Space")
        for _ in range(20):
            if self.page.locator(option).is_checked():
                return None
            self.page.keyboard.press("ArrowDown")
        raise AssertionError(f"the arrows never come to {option}")

    def write(self, box: str, text: str) -> None:
        """Type into a box."""
        self.unfold(self.page.locator(box))
        self.focus(box)
        self.page.keyboard.type(text)

    def unfold(self, target: Any) -> None:
        """Open what the thing is folded into, if it is."""
        summary = target.locator("xpath=ancestor::details[not(@open)]/summary")
        if summary.count():
            mark = "() => document.querySelector('[data-fold]')?.removeAttribute('data-fold')"
            self.page.evaluate(mark)
            summary.evaluate("one => one.setAttribute('data-fold', '')")
            self.focus("[data-fold]")
            self.page.keyboard.press("Enter")

    def choose(self, button: str) -> None:
        """The button that answers and sends, and Enter."""
        self.focus(button)
        self.enter()

    def go_on(self) -> None:
        """The main action, and Enter."""
        self.focus(".act .main")
        self.enter()

    def give(self, value: Any) -> None:
        """Answer the question on the page; a box that was typed into is sent from there."""
        page = self.page
        if value is None:
            self.focus('button[value="cant-tell"]')
        elif isinstance(value, list) and value and isinstance(value[0], dict):
            for reading in value[:-1]:
                self.put(reading)
                self.enter()
            self.put({key: one for key, one in value[-1].items() if key != "seen"})
            self.focus(f'button[name="seen"][value="{value[-1]["seen"]}"]')
        elif page.locator("button.tile").count():
            self.focus(f'button.tile[value="{value}"]')
        elif value is True:
            self.focus(".act .main")
        else:
            self.put(value)
        self.enter()
