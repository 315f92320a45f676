"""How a page is worked with a finger, and what that costs: the one place that knows its parts.

Everything that depends on how a page is built stands in ``PARTS`` and in ``Hands``; who wants
what stands in ``effort_runs.py``.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from playwright.sync_api import Error as BrowserError
from playwright.sync_api import Locator, Page

#: Where a page has what, the first that is seen. A group of boxes that asks one thing on a page
#: that asks more says which with ``data-question="flow.step"``; else the address says it.
PARTS = {
    "question": "main [data-question]",
    "form": "main form[method=post]",
    "primary": "[data-primary]:visible, .act .main:not([hidden]):visible",
    "cant tell": 'button[value="cant-tell"]:visible',
    "save reading": 'button[value="add"]:not(.unseen):visible',
    "cautions": "[data-caution], .care li, p.care",
    "complaint": "#fix, [data-complaint]",
    "whole": "[data-whole]:visible, .top__where:visible",  # the joint that a page is about
    "back": ".top__back:visible",
    "pressable": "a:visible, button:not(.unseen):visible, summary:visible",
}

#: Keystroke-level model: a tap or key with a gloved finger, a decision a screen. [s]
TAP_S, THINK_S = 1.1, 1.35
#: How fast a person reads. [words/min]
READ_WPM = 250

#: The words of the page whose tops lie above a line, as a person sees them: nothing folded,
#: nothing that is for ears only.
_WORDS_ABOVE = """line => {
  const words = [], walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT)
  for (let one = walk.nextNode(); one; one = walk.nextNode()) {
    const holder = one.parentElement
    if (!one.data.trim() || !holder.checkVisibility({visibilityProperty: true})) continue
    if (holder.closest('.unseen, .skip, script, style')) continue
    const range = document.createRange()
    range.selectNodeContents(one)
    const box = range.getBoundingClientRect()
    if (box.width > 1 && box.top + scrollY < line) words.push(one.data)
  }
  return words.join(' ')
}"""


class StuckError(AssertionError):
    """The person does not get on; says where."""


@dataclass
class Tally:
    """What a run cost so far."""

    screens: int = 0
    taps: int = 0
    typed: int = 0
    scrolled: float = 0.0
    words: int = 0
    cautions: list[str] = field(default_factory=list)
    known: list[str] = field(default_factory=list)
    cant_tell: list[str] = field(default_factory=list)
    refused: list[str] = field(default_factory=list)
    trail: list[str] = field(default_factory=list)
    met_before: set[str] = field(default_factory=set)  # cautions of the run that this one follows

    @property
    def seconds(self) -> float:
        """The estimate: keys and taps, reading, one thought a screen. Scrolling is not in it."""
        reading = self.words / READ_WPM * 60
        return (self.taps + self.typed) * TAP_S + reading + self.screens * THINK_S

    def as_json(self) -> dict[str, Any]:
        """What is printed of a run."""
        return {
            "screens": self.screens,
            "taps": self.taps,
            "typed": self.typed,
            "scrolled": round(self.scrolled, 1),
            "cautions": len(self.cautions),
            "caution_repeats": len(self.cautions) - len(set(self.cautions) - self.met_before),
            "known_questions": len(self.known),
            "words": self.words,
            "seconds": round(self.seconds),
            "cant_tell": len(self.cant_tell),
            "refused": len(self.refused),
        }


@dataclass(frozen=True)
class Question:
    """One thing that the page asks: ``flow.step``, and where its boxes are."""

    name: str
    scope: Locator
    alone: bool


class Hands:
    """One finger on one phone; counts what it does and what it meets."""

    def __init__(self, page: Page, tally: Tally, pictures: Path | None = None) -> None:
        self.page = page
        self.tally = tally
        self.pictures = pictures
        self._deepest = 0.0
        self._read_on = ""

    # ── Looking ──────────────────────────────────────────────────────────────────────────────

    @property
    def path(self) -> str:
        """Where the person is."""
        return urlsplit(self.page.url).path

    @property
    def words(self) -> str:
        """All that is shown on the page without unfolding anything, in one line."""
        return " ".join(self.page.evaluate(_WORDS_ABOVE, 1e9).split())

    @property
    def heading(self) -> str:
        """The page's heading."""
        return " ".join(self.page.locator("h1").first.inner_text().split())

    @property
    def complaint(self) -> str:
        """What the page says is wrong with what was just sent."""
        found = self.page.locator(PARTS["complaint"])
        return " ".join(found.first.inner_text().split()) if found.count() else ""

    def look(self) -> None:
        """Meet a new screen."""
        self.page.wait_for_load_state()
        self.tally.screens += 1
        height = self.page.evaluate("innerHeight + scrollY")
        self._deepest = height
        for one in self.page.locator(PARTS["cautions"]).all():
            if one.is_visible():
                self.tally.cautions.append(" ".join(one.inner_text().split()))
        at = re.sub(r"/[0-9a-f]{8}-[0-9a-f-]{27}", "", self.path)
        self.tally.trail.append(f"{at} · {self.heading}")
        if self.pictures is not None:
            self.pictures.mkdir(parents=True, exist_ok=True)
            name = f"{self.tally.screens:02d}.png"
            self.page.screenshot(path=self.pictures / name, full_page=True)

    def leave(self) -> None:
        """Count what was read on this screen: from its top to the lowest line that was shown."""
        self.tally.words += len(self.page.evaluate(_WORDS_ABOVE, self._deepest).split())

    def questions(self) -> list[Question]:
        """What the page asks."""
        groups = self.page.locator(PARTS["question"]).all()
        if groups:
            shown = [one for one in groups if one.is_visible()]  # what is folded asks nobody
            names = [one.get_attribute("data-question") or "" for one in shown]
            pairs = zip(names, shown, strict=True)
            return [Question(name, one, alone=len(shown) == 1) for name, one in pairs]
        found = re.fullmatch(r"/joint/[^/]+/([^/]+)/[^/]+/([^/]+)", self.path)
        if found is None or found[2] == "answer":
            return []
        return [Question(f"{found[1]}.{found[2]}", self.page.locator(PARTS["form"]).first, True)]

    def stands(self, question: Question) -> bool:
        """Whether its answer stands there already, to be put right."""
        filled = "one => [...one.querySelectorAll('input')].some((box) => box.checked)"
        return not question.alone and bool(question.scope.evaluate(filled))

    # ── Touching ─────────────────────────────────────────────────────────────────────────────

    def _bring(self, target: Locator) -> None:
        before = self.page.evaluate("scrollY")
        target.scroll_into_view_if_needed()
        after, height = self.page.evaluate("[scrollY, innerHeight]")
        self.tally.scrolled += abs(after - before) / height
        self._deepest = max(self._deepest, after + height)

    def tap(self, target: Locator, *, force: bool = False) -> None:
        """Tap what stays on the page: an option, a box, what is folded."""
        self._bring(target)
        target.tap(force=force)
        self.tally.taps += 1

    def press(self, target: Locator) -> None:
        """Tap what leads to another screen, and look at it."""
        self._bring(target)
        self.leave()
        self.tally.taps += 1
        try:
            with self.page.expect_navigation():
                target.tap()
        except BrowserError as error:
            raise StuckError(f"nothing comes of {target}: {self.tally.trail[-1]}") from error
        self.look()

    def write(self, box: Locator, text: str) -> None:
        """Type into a box; what stands in it already is left when it is the same."""
        if box.input_value() == text:
            return
        self.tap(box)
        box.fill(text)
        self.tally.typed += len(text)

    def find(self, wanted: str) -> Locator | None:
        """What can be pressed with these words, as a person scans for them from the top.

        ``name=value`` is a form's button by what it sends, ``name=`` the first of that name.
        """
        if sends := re.fullmatch(r"(\w+)=(.*)", wanted):
            value = f'[value="{sends[2]}"]' if sends[2] else ""
            found = self.page.locator(f'main button[name="{sends[1]}"]{value}:visible')
        else:
            pressable = self.page.locator(PARTS["pressable"])
            found = pressable.filter(has_text=re.compile(wanted, re.IGNORECASE))
        return found.first if found.count() else None

    def primary(self) -> Locator | None:
        """The one thing that the page offers to do next."""
        found = self.page.locator(PARTS["primary"])
        return found.first if found.count() else None

    def part(self, name: str) -> Locator | None:
        """A part of the page by its name in ``PARTS``, if it is there."""
        found = self.page.locator(PARTS[name])
        return found.first if found.count() else None

    def leads_on(self, target: Locator) -> bool:
        """Whether a tap on it loads another screen."""
        return target.evaluate(
            "one => one.matches('button:not([type=button])')"
            " || (one.matches('a[href]') && !one.getAttribute('href').startsWith('#')"
            " && !one.hasAttribute('download'))"
        )

    # ── Answering ────────────────────────────────────────────────────────────────────────────

    def answer(self, question: Question, value: Any) -> bool:
        """Answer one question; True where that led to the next screen.

        ``None`` is "I can't tell", ``True`` a thing done, a list several readings or options, a
        mapping boxes by name. Text is an option's value or what is typed.
        """
        if value is None:
            return self._leave_open(question)
        if value is True:
            return False
        scope = question.scope
        if isinstance(value, Mapping):
            for name, text in value.items():
                self.write(scope.locator(f'[name$="{name}"]').first, text)
            return False
        if isinstance(value, Sequence) and not isinstance(value, str):
            if scope.locator('input[type="checkbox"]').count():
                return any(self._choose(question, one) for one in value)
            boxes = scope.locator('input[type="text"]:visible').all()
            for box, text in zip(boxes, value, strict=False):
                self.write(box, text)
            return False
        return self._choose(question, value)

    def _leave_open(self, question: Question) -> bool:
        self.tally.cant_tell.append(question.name)
        scope = self.page if question.alone else question.scope
        out = scope.locator(PARTS["cant tell"])
        if out.count():
            self.press(out.first)
            return True
        if question.alone:
            raise StuckError(f"no way out of {question.name}: {self.tally.trail[-1]}")
        return False  # a box among others stays empty

    def _choose(self, question: Question, value: str) -> bool:
        scope = question.scope
        tile = scope.locator(f'button[value="{value}"]:not(.unseen):visible')
        if tile.count():
            self.press(tile.first)
            return True
        option = scope.locator(f'input[value="{value}"]:is([type=radio], [type=checkbox])')
        if option.count():
            mark = option.first.get_attribute("id")
            if not option.first.is_checked():
                label = scope.locator(f'label[for="{mark}"]:not(.spot)')
                self.tap(label.first, force=True)  # the radio's own area may lie over its label
            return False
        boxes = scope.locator('input[type="text"]:visible, textarea:visible')
        if not boxes.count() and scope.locator("[type=radio], [type=checkbox]").count():
            return self._leave_open(question)  # what this person sees is not on offer
        if not boxes.count():
            raise StuckError(f"nowhere to say {value!r} to {question.name}: {self.tally.trail[-1]}")
        self.write(boxes.first, value)
        return False
