"""What an answer's page shows: a few kinds of block, declared by the flow."""

from __future__ import annotations

from dataclasses import dataclass

from fieldkit.flows.spoken import Spoken


@dataclass(frozen=True, slots=True)
class Facts(Spoken):
    """Label and figure pairs, the first one large."""

    TEXTS = ("rows", "title")

    rows: tuple[tuple[str, str], ...]
    title: str = ""


@dataclass(frozen=True, slots=True)
class Steps(Spoken):
    """A numbered list of things to do, folded away when ``folded``."""

    TEXTS = ("title", "items")

    title: str
    items: tuple[str, ...]
    folded: bool = False


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


@dataclass(frozen=True, slots=True)
class Lead(Spoken):
    """What the first screen of an answer says: the figure that decides, and what to do now."""

    TEXTS = ("figure", "do")

    figure: str = ""
    do: str = ""


Block = Lead | Facts | Steps | Table | Cards | Notes | Drawing | Clock
