"""A guided flow as data: steps, each one question, and one calculation at the end.

A flow holds no view and no state. ``next_step`` looks at the answers so far and at what the
joint's log already knows, and names the step to ask next, or none when the flow can be worked
out. Adding a flow is adding a ``Flow``: the web side renders any of them.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, fields, is_dataclass
from datetime import datetime
from typing import Any, ClassVar

from fieldkit.engine.words import Figure, Span, Text, say
from fieldkit.engine.working import Answer
from fieldkit.flows.units import unit_of

#: What the person gave, by step id, and what the log knows, by fact name. JSON values only.
Known = Mapping[str, Any]

#: Stored when a person says "I can't tell": asked, and not known.
CANT_TELL = None

Always = Callable[[Known], bool]


class Spoken:
    """Declares texts: the fields named in ``TEXTS`` become texts that can be told anew.

    Of the tuples in the fields named in ``SECOND``, such as (what is typed, what it says), the
    second is one. So a flow is written in plain strings, and each can still be translated.
    """

    __slots__ = ()
    TEXTS: ClassVar[tuple[str, ...]] = ()
    SECOND: ClassVar[tuple[str, ...]] = ()

    def __post_init__(self) -> None:
        """Make texts of the plain strings."""
        for name in self.TEXTS:
            object.__setattr__(self, name, _texts(getattr(self, name)))
        for name in self.SECOND:
            pairs = getattr(self, name)
            told = tuple((first, _texts(second), *rest) for first, second, *rest in pairs)
            object.__setattr__(self, name, told)


def _texts(value: Any) -> Any:
    """``value`` with each plain string in it, however deep, made a text."""
    if type(value) is str:
        return Text(value, {}) if value else value
    if isinstance(value, tuple | list):
        return tuple(_texts(one) for one in value)
    return value


@dataclass(frozen=True, slots=True)
class Option(Spoken):
    """One choice: what is stored, plain words, and the trade's word beside them."""

    TEXTS = ("label", "trade", "hint")

    value: str
    label: str
    trade: str = ""
    hint: str = ""


@dataclass(frozen=True, slots=True)
class Quantity(Spoken):
    """One number with a unit. ``common`` are big buttons: (what is typed, what it says).

    What is typed always ends up with its unit, and what only says a figure is told in the
    reader's units.
    """

    SECOND = ("common",)

    unit: str
    at_least: float | None = None
    at_most: float | None = None
    common: tuple[tuple[str, str], ...] = ()

    def __post_init__(self) -> None:
        """Make figures of the buttons that say one, and texts of the others."""
        buttons = tuple(_button(typed, label, self.unit) for typed, label in self.common)
        object.__setattr__(self, "common", buttons)
        Spoken.__post_init__(self)


_FIGURE = re.compile(r"(?P<number>-?\d+(?:\.(?P<decimals>\d+))?)(?: (?P<unit>\S+))?")


def _button(typed: str, label: str, unit: str) -> tuple[str, str]:
    """A button of a quantity in ``unit``, its label a figure where it is no more than that.

    Examples
    --------
    >>> _button("0.700", "0.700", "in"), _button("60 F", "60 °F", "°F")[1].template
    (('0.700 in', '0.700 in'), '{figure}')
    """
    bare = _FIGURE.fullmatch(typed)
    if bare is not None and bare["unit"] is None:
        typed = f"{typed} {unit}".strip()
    found = _FIGURE.fullmatch(label) if type(label) is str else None
    known = unit_of(found["unit"] or unit) if found is not None else None
    if found is None or known is None or known.name == "turns":  # one turn, two turns: words
        return typed, label
    places = len(found["decimals"] or "")
    return typed, say("{figure}", figure=Figure(float(found["number"]), known.name, places))


@dataclass(frozen=True, slots=True)
class Readings(Spoken):
    """Several readings of the same thing, at least ``at_least`` and at most ``at_most``."""

    TEXTS = ("labels",)

    unit: str
    labels: tuple[str, ...]
    at_least: int = 1


@dataclass(frozen=True, slots=True)
class Group(Spoken):
    """Several named quantities on one page that together are one question."""

    SECOND = ("parts",)

    parts: tuple[tuple[str, str, str], ...]  # (name, label, unit)
    at_least: int = 1


@dataclass(frozen=True, slots=True)
class Choice:
    """Pick one of a few."""

    options: tuple[Option, ...]


@dataclass(frozen=True, slots=True)
class Several:
    """Pick any number of a few, none included."""

    options: tuple[Option, ...]


@dataclass(frozen=True, slots=True)
class Words:
    """A few words of free text."""

    limit: int = 200
    long: bool = False


@dataclass(frozen=True, slots=True)
class Whole:
    """A count."""

    at_least: int = 0
    at_most: int = 10_000
    common: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Series(Spoken):
    """Readings added one by one over time; each is saved with its own time.

    ``parts`` as in ``Group``. The person says when the series is complete.
    """

    SECOND = ("parts",)

    parts: tuple[tuple[str, str, str], ...]
    at_least: int = 2


@dataclass(frozen=True, slots=True)
class Confirm(Spoken):
    """Something to do, not to answer: the page shows it and one button says it is done."""

    TEXTS = ("done",)

    done: str = "Done"


Kind = Quantity | Readings | Group | Choice | Several | Words | Whole | Series | Confirm


@dataclass(frozen=True, slots=True)
class Timer(Spoken):
    """A wait of ``seconds`` that began when the step named ``after`` was answered.

    The end follows from the log, so it survives a reload and goes on while the phone sleeps.
    """

    TEXTS = ("words",)

    after: str
    seconds: Callable[[Known], float]
    words: str


@dataclass(frozen=True, slots=True)
class Step(Spoken):
    """One question on one page.

    Parameters
    ----------
    id : str
        Short name, unique within the flow; it stands in the address of the page.
    ask : str
        The question in plain words: the page's heading.
    kind : Kind
        What kind of answer.
    trade : str
        The trade's word for it, shown beside the plain one.
    why : str
        Why we ask, one or two sentences.
    hint : str
        How to find the answer: what to hold, where to look.
    fact : str
        The joint's fact that this answers. When the log knows it, the step is not asked.
    when : callable
        Asked only if this is true of the answers and facts so far.
    caution : tuple of str
        Shown above the question, before the act it guards.
    cant_tell : str
        The words on the way out: every step has one. Empty only for ``Confirm``.
    sources : tuple of str
        Ids in sources.csv of any number in the words of this step.
    picture : callable or None
        The drawing that stands with the question, from the answers and facts so far.
    see : tuple of (str, str)
        Pages that help with the answer: (name of the page, words of the link).
    timer : Timer or None
        How long this takes, counted from an answer that the log has the time of.
    """

    TEXTS = ("ask", "trade", "why", "hint", "cant_tell")
    SECOND = ("see",)

    id: str
    ask: str
    kind: Kind
    trade: str = ""
    why: str = ""
    hint: str = ""
    fact: str = ""
    when: Always = field(default=lambda known: True)
    caution: tuple[str, ...] = ()
    cant_tell: str = "I can’t tell"
    sources: tuple[str, ...] = ()
    picture: Callable[[Known], Drawing | None] | None = None
    timer: Timer | None = None
    see: tuple[tuple[str, str], ...] = ()

    def drawing(self, given: Known, facts: Known) -> Drawing | None:
        """The picture for what is known now, where there is one."""
        return None if self.picture is None else self.picture(dict(facts) | dict(given))

    @property
    def way_out(self) -> str:
        """The words on the button that leaves the question open; of a thing to do, undone."""
        undone = isinstance(self.kind, Confirm) and self.cant_tell == "I can’t tell"
        return say("Not done") if undone else self.cant_tell


# ── What the result page shows: a few kinds of block, declared by the flow ──────────────────


@dataclass(frozen=True, slots=True)
class Facts(Spoken):
    """Label and figure pairs, the first one large."""

    TEXTS = ("rows", "title")

    rows: tuple[tuple[str, str], ...]
    title: str = ""


@dataclass(frozen=True, slots=True)
class Steps(Spoken):
    """A numbered list of things to do."""

    TEXTS = ("title", "items")

    title: str
    items: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Table(Spoken):
    """A plain table; the first cell of each row is its heading; folded away when ``folded``."""

    TEXTS = ("title", "columns", "rows")

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    folded: bool = False


@dataclass(frozen=True, slots=True)
class Card(Spoken):
    """One of several possible choices; ``pick`` is what is saved if it is chosen."""

    TEXTS = ("title", "lines", "note")

    title: str
    lines: tuple[tuple[str, str], ...]
    note: str = ""
    pick: str = ""
    picked: bool = False


@dataclass(frozen=True, slots=True)
class Cards(Spoken):
    """A list of cards under a heading; ``ask`` stands on each card's button."""

    TEXTS = ("title", "ask")

    title: str
    cards: tuple[Card, ...]
    ask: str = ""


@dataclass(frozen=True, slots=True)
class Notes(Spoken):
    """Plain paragraphs or reasons under a heading, folded away when ``folded``."""

    TEXTS = ("title", "lines")

    title: str
    lines: tuple[str, ...]
    folded: bool = False


@dataclass(frozen=True, slots=True)
class Spot:
    """A place in a drawing that stands for one option, by the middle of a 54-unit square."""

    option: str
    x: float
    y: float


@dataclass(frozen=True, slots=True)
class Drawing(Spoken):
    """A picture made from the numbers: SVG markup of ours and the same said in words.

    ``spots`` are places to touch, each one of the question's options; the page numbers them
    and the options alike, and lays them over the picture by its ``height``.
    """

    TEXTS = ("title", "words")

    title: str
    svg: str
    words: str
    spots: tuple[Spot, ...] = ()
    height: float = 0.0


@dataclass(frozen=True, slots=True)
class Clock(Spoken):
    """A moment to wait for, ISO 8601, that the page counts down to."""

    TEXTS = ("title", "over")

    title: str
    until: str
    over: str


Block = Facts | Steps | Table | Cards | Notes | Drawing | Clock


def _require_tellable(value: object) -> None:
    """Fail here, not in the middle of a page, where a block holds what cannot be told."""
    if isinstance(value, Figure | Span):
        str(value)
    elif isinstance(value, tuple | list):
        for one in value:
            _require_tellable(one)
    elif isinstance(value, Clock):
        datetime.fromisoformat(value.until).astimezone()
    elif is_dataclass(value):
        for part in fields(value):
            _require_tellable(getattr(value, part.name))
    elif not (value is None or isinstance(value, str | int | float)):
        raise TypeError("a block holds texts and figures")


@dataclass(frozen=True, slots=True)
class Flow(Spoken):
    """A guided flow: questions, then one calculation, then what to show and what was learned.

    ``work_out`` gets the flow's answers and the joint's facts, and returns an ``Answer`` or
    raises a ``Problem`` whose ``field`` is a step id, which sends the person back to that step
    with the sentence shown. ``show`` lays the answer's JSON out in blocks. ``learn`` names the
    facts that the joint has gained. ``pick`` (where cards can be chosen) names the facts gained
    by choosing one.
    """

    TEXTS = ("title", "trade", "about")

    id: str
    title: str
    trade: str
    about: str
    steps: tuple[Step, ...]
    work_out: Callable[[Known, Known], Answer]
    show: Callable[[Known], tuple[Block, ...]]
    learn: Callable[[Known, Known], dict[str, Any]]
    cautions: tuple[str, ...] = ()
    pick: Callable[[Known, str], dict[str, Any]] | None = None
    then: tuple[str, ...] = ()
    #: For flows whose next question depends on the answers; otherwise the order of ``steps``.
    choose_next: Callable[[Known, Known], Step | None] | None = None
    #: For such flows: the step of an id that was asked before, so that it can be changed.
    find_step: Callable[[str, Known, Known], Step | None] | None = None
    #: Whether the price list is wanted among the facts, as ``prices``.
    uses_prices: bool = False

    def next_step(self, given: Known, facts: Known) -> Step | None:
        """The step to ask next, or None when the flow can be worked out."""
        if self.choose_next is not None:
            return self.choose_next(given, facts)
        seen = dict(facts) | dict(given)
        for step in self.steps:
            if step.id in given or not step.when(seen):
                continue
            if step.fact and facts.get(step.fact) is not None:
                continue
            return step
        return None

    def relevant(self, given: Known, facts: Known) -> dict[str, Any]:
        """The answers that still count: one whose question no longer applies is left out.

        So changing "with a caliper" to "with a strip" drops the caliper readings from the
        sum, and changing back finds them again, since the log keeps them.
        """
        if self.choose_next is not None:
            return dict(given)
        kept: dict[str, Any] = {}
        for step in self.steps:
            if step.id in given and step.when(dict(facts) | kept):
                kept[step.id] = given[step.id]
        return kept

    def blocks(self, answer: Known) -> tuple[Block, ...]:
        """The answer laid out; of one that another version wrote, nothing but its sentence."""
        try:
            laid_out = tuple(self.show(answer))
            _require_tellable(laid_out)
        except (LookupError, TypeError, ValueError, AttributeError, ArithmeticError):
            return ()
        return laid_out

    def step(self, step_id: str) -> Step | None:
        """The step of that id, or None."""
        return next((step for step in self.steps if step.id == step_id), None)
