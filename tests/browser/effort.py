"""What a run costs the person: ``python tests/browser/effort.py [--json] [--only T1,H2]``.

Serves the demo to itself on a temporary log and plays the runs of ``effort_runs.py`` in a real
browser, by touch at 390 × 844. The person sees only what is on the screen: what a question asks
is answered from what they know, "I can't tell" where they do not, and else they look for the
words of their errand or take the page's own next action. A run that does not get on fails with
where it stood. The clock of the server is the run's own, so cement cures while nobody waits.

Counted: screens met, taps, keys typed, screenfuls scrolled to what is pressed, cautions met and
how many of them were met before in the run, questions about a matter that was told already, and
the words from the top of each screen to the lowest line that was shown. The estimate is the
keystroke-level model with a gloved finger; the time of scrolling is left out of it.
"""

from __future__ import annotations

import argparse
import json
import logging
import re
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any
from unittest.mock import patch

from playwright.sync_api import Browser, sync_playwright

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from browser.effort_hands import Hands, Question, StuckError, Tally
from browser.effort_runs import ANEW, PICK, RUNS, Errand, Run, Screen, matter_of, says_also
from support.chromium import launch_options
from support.screens import serving

from fieldkit.app import make_app
from fieldkit.cli.demo import load_demo
from fieldkit.joblog import utc_text

SIZE = {"width": 390, "height": 844}

#: Flows in which a cause is picked; in others it is parts.
DIAGNOSES = (["leak-now"], ["popped-off"], ["failed-test"])

#: A person gives up here: after so many screens, or when the same one is met so often.
MOST_SCREENS, MOST_VISITS = 150, 9


class Clock:
    """The server's time, which passes when a run says so."""

    def __init__(self) -> None:
        self.ms = 0

    def __call__(self) -> int:
        self.ms += 500
        return self.ms

    def wait(self, minutes: float) -> None:
        """Let time pass."""
        self.ms += round(minutes * 60_000)


class Player:
    """One person on one run."""

    def __init__(self, run: Run, hands: Hands, log: Any, clock: Clock, told: set[str]) -> None:
        self.run = run
        self.hands = hands
        self.log = log
        self.clock = clock
        self.told = told
        self.knows = dict(run.knows)
        self.refused: set[str] = set()
        self.pressed: set[tuple[str, str]] = set()
        self.read = ""
        self.joint = ""

    def screen(self) -> Screen:
        """What is before the person now."""
        parts = self.hands.path.split("/")
        if len(parts) > 2 and parts[1] == "joint":
            self.joint = parts[2]
        found = self.log.joint(self.joint) if self.joint else None
        words = self.hands.words
        self.read += f" {words}"
        facts = found.facts if found else {}
        return Screen(self.hands.path, words, facts, self.read)

    def play(self) -> None:
        """All errands, one after another.

        Raises
        ------
        StuckError
            The person does not get on, or gave up.
        """
        for errand in self.run.errands:
            self.read = ""
            while not errand.done(self.screen()):
                trail = self.hands.tally.trail
                if len(trail) >= MOST_SCREENS or trail.count((trail or [""])[-1]) > MOST_VISITS:
                    raise StuckError(f"{errand.name}: gave up after {len(trail)} screens")
                if questions := self.hands.questions():
                    self.answer(questions)
                else:
                    self.go_on(errand)
        self.hands.leave()

    # ── Questions ────────────────────────────────────────────────────────────────────────────

    def answer(self, questions: list[Question]) -> None:
        """Answer what the page asks, and send it."""
        complaint = self.hands.complaint
        if complaint and self.turned_away(questions, complaint):
            return
        for question in questions:
            stands = self.hands.stands(question)
            value = self.say(question.name, complaint, stands=stands)
            if value is not None and question.name.endswith("readings") and self.series(value):
                return
            if self.hands.answer(question, value):
                for one in questions:
                    self.pass_time(one.name)
                return
        primary = self.hands.primary()
        if primary is None:
            raise StuckError(f"nothing sends the answer: {self.hands.tally.trail[-1]}")
        self.hands.press(primary)
        for question in questions:
            self.pass_time(question.name)

    def turned_away(self, questions: list[Question], complaint: str) -> bool:
        """Whether the page refuses what this person cannot know: then they leave it.

        Raises
        ------
        StuckError
            It refused the same before.
        """
        refused = ", ".join(question.name for question in questions)
        self.hands.tally.refused.append(f"{refused}: {complaint}")
        if refused in self.refused:
            raise StuckError(f"{refused} is refused: {complaint}")
        self.refused.add(refused)
        way_out = self.hands.part("whole")
        if way_out is None or any(one.name in self.run.guesses for one in questions):
            return False
        self.hands.press(way_out)
        return True

    def say(self, name: str, complaint: str, *, stands: bool) -> Any:
        """What this person says to a question; notes what was told before, and is not there."""
        step = name.split(".", 1)[-1]
        if complaint and name in self.run.guesses:
            return self.run.guesses[name]
        value = self.knows.get(name, self.knows.get(step))
        matter = matter_of(name)
        if value is not True:  # a thing to do asks nothing
            if matter in self.told and not stands:
                self.hands.tally.known.append(name)
            self.told.add(matter)
        self.told |= says_also(name, value)
        return value

    def series(self, readings: Any) -> bool:
        """Readings over time, where the page takes them one by one."""
        hands = self.hands
        if hands.part("save reading") is None:
            return False
        facts = self.log.joint(self.joint).facts
        test = round(facts.get("test.pressure_psi") or 60, 1)
        seen = self.knows["prove.seen"]
        for reading in readings:
            hold = reading["after"] == "hold"
            self.clock.wait((facts.get("test.hold_minutes") or 60) + 1 if hold else 1)
            for box in hands.page.locator('main [name^="value-"]').all():
                name = (box.get_attribute("name") or "").removeprefix("value-")
                hands.write(box, reading[name].format(test=test))
            last = hands.page.locator(f'button[name="seen"][value="{seen}"]:visible')
            ends = hold and last.count() > 0
            hands.press(last.first if ends else hands.part("save reading"))
        return True

    def pass_time(self, name: str) -> None:
        """Wait as long as the work takes."""
        self.clock.wait(self.run.waits.get(name, 0) * 60)

    # ── Between questions ────────────────────────────────────────────────────────────────────

    def go_on(self, errand: Errand) -> None:
        """Fill what the person came to fill, press what they look for, else the next action."""
        hands = self.hands
        for name, text in errand.writes.items():
            self.fill_all(name, text)
        target = self.change_mind(errand) or self.seek(errand, errand.presses)
        if target is None and errand.follows and (primary := hands.primary()) is not None:
            mark = ("", primary.inner_text())  # who knows another way takes one of them once
            if mark not in self.pressed or not errand.otherwise:
                self.pressed.add(mark)
                target = primary
        target = target or self.seek(errand, errand.otherwise)
        target = target or hands.part("whole") or hands.part("back")
        if target is None:
            raise StuckError(f"{errand.name}: nothing to press: {hands.tally.trail[-1]}")
        self.touch(target)

    def change_mind(self, errand: Errand) -> Any:
        """Where what is read here makes the person decide anew: what they press then."""
        words = self.hands.words
        for change in self.run.changes:
            if re.search(change.reading, words, re.IGNORECASE):
                self.knows.update(change.knows)
                self.told -= {matter_of(one) for one in change.knows}
                return self.seek(errand, change.presses)
        return None

    def seek(self, errand: Errand, words: tuple[str, ...]) -> Any:
        """The first of these words that can be pressed and was not pressed here before."""
        hands = self.hands
        for wanted in words:
            target = hands.find(wanted)
            if target is None:
                continue
            mark = ("" if words is errand.otherwise else hands.path, wanted)
            if mark not in self.pressed:
                self.pressed.add(mark)
                if wanted == PICK and hands.path.split("/")[3:4] not in DIAGNOSES:  # it picks parts
                    self.told |= says_also("parts", True)
                return target
        return None

    def touch(self, target: Any) -> None:
        """Press what leads on, tap what only unfolds."""
        if self.hands.leads_on(target):
            self.hands.press(target)
        else:
            self.hands.tap(target)

    def fill_all(self, name: str, text: str) -> None:
        """Write into each empty box of a plain form whose name begins so, unfolding it first."""
        hands = self.hands
        for box in hands.page.locator(f'main form [name^="{name}"]:not([type=hidden])').all():
            folded = box.locator("xpath=ancestor::details[not(@open)]")
            if folded.count():
                hands.tap(folded.first.locator("summary").first)
            if box.is_visible() and not box.input_value():
                hands.write(box, text)


@contextmanager
def phone(browser: Browser, base: str, run: Run) -> Iterator[Any]:
    """A page as the run's person has it before them."""
    context = browser.new_context(
        viewport=SIZE, has_touch=True, is_mobile=True, locale=run.language
    )
    context.add_cookies(
        [
            {"name": "language", "value": run.language, "url": base},
            {"name": "units", "value": run.units, "url": base},
        ]
    )
    context.set_default_timeout(60_000)
    yield context.new_page()
    context.close()


def play(browser: Browser, run: Run, pictures: Path | None = None) -> dict[str, Tally]:
    """Play one run over a log of its own, after the run it follows; what each of them cost.

    Raises
    ------
    StuckError
        The person does not get on; the message holds the way there.
    """
    clock, told = Clock(), set()
    tallies: dict[str, Tally] = {}
    chain = [RUNS[run.after], run] if run.after else [run]
    with TemporaryDirectory() as folder, patch("fieldkit.web.clock.now_ms", clock):
        clock.ms = round(datetime.fromisoformat(run.begins).timestamp() * 1000)
        app = make_app(Path(folder) / "log.db")
        log = app.extensions["joblog"]
        load_demo(log, utc_text(clock.ms) if run.month else "")
        with serving(app) as base, phone(browser, base, run) as page:
            page.goto(f"{base}/")
            for one in chain:
                met = {each for other in tallies.values() for each in other.cautions}
                tally = tallies[one.id] = Tally(met_before=met)
                hands = Hands(page, tally, pictures and pictures / one.id)
                if one.after:
                    told -= ANEW
                else:
                    hands.look()
                try:
                    Player(one, hands, log, clock, told).play()
                except StuckError as stuck:
                    way = "\n".join(f"  {n}. {at}" for n, at in enumerate(tally.trail, 1))
                    raise StuckError(f"{one.id} is stuck: {stuck}\n{way}") from stuck
    return tallies


def main() -> None:
    """Play the runs that were asked for, and print what they cost."""
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--json", action="store_true", help="print JSON")
    parser.add_argument("--only", default=",".join(RUNS), help="runs, with commas between")
    parser.add_argument("--pictures", type=Path, help="folder for a picture of each screen")
    parser.add_argument("--trail", action="store_true", help="print each run's screens as well")
    options = parser.parse_args()
    if strange := set(options.only.split(",")) - RUNS.keys():
        parser.error(f"no such run: {', '.join(sorted(strange))}; there are {', '.join(RUNS)}")
    done: dict[str, dict[str, Any]] = {}
    stuck = False
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(**launch_options())
        asked = [RUNS[name] for name in options.only.split(",")]
        for run in asked:
            if any(other.after == run.id for other in asked):
                continue  # is played on the way to the other
            try:
                tallies = play(browser, run, options.pictures)
            except StuckError as error:
                stuck = True
                print(error, file=sys.stderr)  # noqa: T201
                continue
            done |= {name: tally.as_json() for name, tally in tallies.items()}
            if options.trail:
                print_trail(tallies)
        browser.close()
    if options.json:
        print(json.dumps(done, indent=1))  # noqa: T201
    else:
        print_table(done)
    sys.exit(1 if stuck else 0)


def print_trail(tallies: dict[str, Tally]) -> None:
    """Where each run went, and what it was asked in vain."""
    for name, tally in tallies.items():
        for title in ("trail", "known", "cant_tell", "refused"):
            print(name, title, *getattr(tally, title), sep="\n  ", file=sys.stderr)  # noqa: T201


def print_table(done: dict[str, dict[str, Any]]) -> None:
    """One line a run."""
    keys = list(next(iter(done.values()), {}))
    print("run ", *(f"{key:>15}" for key in keys), sep="")  # noqa: T201
    for name, found in done.items():
        print(f"{name:<4}", *(f"{found[key]:>15}" for key in keys), sep="")  # noqa: T201


if __name__ == "__main__":
    main()
