"""The lines of working that answers show: each formula once, with what it rests on."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from fieldkit.tables.load import BadTable, load


@dataclass(frozen=True, slots=True)
class Formula:
    """What a line of working is called, how its figure comes about, and the figure's unit.

    Source and status are empty where the line rests on the row of a table that it was read from.
    """

    id: str
    name: str
    formula: str
    unit: str
    source: str | None
    status: str | None


TABLES: dict[str, type] = {"formulas": Formula}


@cache
def formulas() -> dict[str, Formula]:
    """All formulas by id."""
    return {row.id: row for row in load("formulas", Formula)}


def check() -> None:
    """Ids are unique, and no line has a source without a status.

    Raises
    ------
    BadTable
        A row breaks one of these rules.
    """
    seen: set[str] = set()
    for line, row in enumerate(load("formulas", Formula), start=2):
        if row.id in seen:
            raise BadTable("formulas", line, "id", row.id, "is there twice")
        if (row.source is None) != (row.status is None):
            raise BadTable("formulas", line, "status", row.status, "stands or falls with source")
        seen.add(row.id)
