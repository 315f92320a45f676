"""Cautions: what can hurt someone, said the same way wherever it applies."""

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


TABLES: dict[str, type] = {"cautions": Caution}


@cache
def cautions() -> dict[str, Caution]:
    """All cautions by id."""
    return {row.id: row for row in load("cautions", Caution)}
