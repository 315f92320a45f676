"""The languages that pages are written in: a row each, and nothing about them anywhere else."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from fieldkit.tables.load import BadTable, load


@dataclass(frozen=True, slots=True)
class Language:
    """One language: its own ``name``, and the locales that are told apart in it.

    Locales differ in how numbers and dates are written; the first is taken where the reader's is
    not among them. ``whole``: every text must be translated. Of one that is not whole, what
    is missing stands in English, and pages say so. ``letters``: what it is written with beyond
    English.
    """

    id: str
    name: str
    locales: tuple[str, ...]
    whole: bool
    letters: str
    source: str
    status: str


TABLES: dict[str, type] = {"languages": Language}


@cache
def languages() -> dict[str, Language]:
    """Every language by its code, English first."""
    return {row.id: row for row in load("languages", Language)}


def check() -> None:
    """English first, and each language's first locale its own code.

    Raises
    ------
    BadTable
        The first row that breaks one.
    """
    for line, row in enumerate(load("languages", Language), start=2):
        if (line == 2) != (row.id == "en"):
            raise BadTable("languages", line, "id", row.id, "must be en in the first row only")
        if row.locales[:1] != (row.id,):
            raise BadTable("languages", line, "locales", row.locales, "must begin with the id")
