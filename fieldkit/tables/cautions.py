"""What can hurt someone, said the same way wherever it applies, and what stops the work."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from fieldkit.tables.load import load


@dataclass(frozen=True, slots=True)
class Caution:
    """One caution; ``text`` stands on the page, ``trade_word`` beside it."""

    id: str
    text: str
    trade_word: str
    source: str
    status: str


@dataclass(frozen=True, slots=True)
class Stop:
    """A reason to work no further: what to ``do`` at once, and whom to ``call``."""

    id: str
    headline: str
    do: tuple[str, ...]
    call: tuple[str, ...]
    source: str
    status: str


TABLES: dict[str, type] = {"cautions": Caution, "stops": Stop}


@cache
def cautions() -> dict[str, Caution]:
    """All cautions by id."""
    return {row.id: row for row in load("cautions", Caution)}


@cache
def stops() -> dict[str, Stop]:
    """All reasons to stop by id."""
    return {row.id: row for row in load("stops", Stop)}
