"""One question of a flow: what is asked, and what kind of answer it takes."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from fieldkit.engine.words import Figure, say
from fieldkit.flows.block import Drawing
from fieldkit.flows.spoken import Spoken
from fieldkit.typed.units import unit_of

#: What the person gave, by step id, and what the log knows, by fact name. JSON values only.
Known = Mapping[str, Any]

#: Stored when a person says "I can't tell": asked, and not known.
CANT_TELL = None

Always = Callable[[Known], bool]


@dataclass(frozen=True, slots=True)
class Option(Spoken):
    """One choice: what is stored, plain words, and the trade's word beside them.

    ``stops`` is an id of stops.csv: who picks this works no further, and is told whom to call.
    """

    TEXTS = ("label", "trade", "hint")

    value: str
    label: str
    trade: str = ""
    hint: str = ""
    stops: str = ""


@dataclass(frozen=True, slots=True)
class Quantity(Spoken):
    """One number with a unit. ``common`` are big buttons: (what is typed, what it says).

    One text alone is both, but for the ° that no keyboard has.
    With ``outside`` a trade size is asked again: it is not how wide the thing is.
    What is typed always ends up with its unit, and what only says a figure is told in the
    reader's units.
    """

    SECOND = ("common",)

    unit: str
    at_least: float | None = None
    at_most: float | None = None
    common: tuple[str | tuple[str, str], ...] = ()
    outside: bool = False

    def __post_init__(self) -> None:
        """Make figures of the buttons that say one, and texts of the others."""
        pairs = (
            (one.replace("°", ""), one) if isinstance(one, str) else one for one in self.common
        )
        buttons = tuple(_button(typed, label, self.unit) for typed, label in pairs)
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
    """Several readings of the same thing, ``at_least`` of them; ``outside`` as in ``Quantity``."""

    TEXTS = ("labels",)

    unit: str
    labels: tuple[str, ...]
    at_least: int = 1
    outside: bool = False


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

    ``parts`` as in ``Group``; only the first must be read. The person says when the series is
    complete; where ``closed_by`` names a choice, its options say so, each with the last reading.
    """

    SECOND = ("parts",)

    parts: tuple[tuple[str, str, str], ...]
    at_least: int = 2
    closed_by: str = ""


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
    out_stops : str
        An id of stops.csv, where to take the way out means to work no further.
    sources : tuple of str
        Ids in sources.csv of any number in the words of this step.
    picture : callable or None
        The drawing that stands with the question, from the answers and facts so far.
    see : tuple of (str, str)
        Pages that help with the answer: (name of the page, words of the link).
    short : str
        The question as a label of two or three words, where it shares a page with others.
    by : tuple of (str, str)
        The page that sends this answer: (its name, words of its button).
    likely : callable
        What the log makes likely, as typed: it stands in the box, to be put right; else empty.
    folded : bool
        Asked only beside others, and folded away: its answer sharpens the result, and the safe side
        is taken without it.
    within : int
        The seconds in which a thing to do must be done; 0 where nothing hurries.
    timer : Timer or None
        How long this takes, counted from an answer that the log has the time of.
    """

    TEXTS = ("ask", "short", "trade", "why", "hint", "cant_tell")
    SECOND = ("see", "by")

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
    out_stops: str = ""
    sources: tuple[str, ...] = ()
    picture: Callable[[Known], Drawing | None] | None = None
    timer: Timer | None = None
    see: tuple[tuple[str, str], ...] = ()
    short: str = ""
    by: tuple[tuple[str, str], ...] = ()
    within: int = 0
    folded: bool = False
    likely: Callable[[Known], str] = field(default=lambda known: "")

    def drawing(self, given: Known, facts: Known) -> Drawing | None:
        """The picture for what is known now, where there is one."""
        return None if self.picture is None else self.picture(dict(facts) | dict(given))

    def proposed(self, known: Known) -> dict[str, list[str]]:
        """The form as it would be sent with what is likely; empty where nothing is."""
        typed = self.likely(known)
        usual = isinstance(self.kind, Quantity) and any(one[0] == typed for one in self.kind.common)
        return {"common" if usual else "value": [typed]} if typed else {}

    def waits(self, given: Known, facts: Known) -> int:
        """The seconds that this takes, 0 where it takes no time of its own."""
        return 0 if self.timer is None else round(self.timer.seconds(dict(facts) | dict(given)))

    @property
    def way_out(self) -> str:
        """The words on the button that leaves the question open; of a thing to do, undone."""
        undone = isinstance(self.kind, Confirm) and self.cant_tell == "I can’t tell"
        return say("Not done") if undone else self.cant_tell
