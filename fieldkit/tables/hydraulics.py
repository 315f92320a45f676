"""Constants, defaults and limits of flow, surge and heat, each with its source."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from fieldkit.tables.load import BadTable, load


@dataclass(frozen=True, slots=True)
class Hydraulic:
    """One figure that a hydraulic formula, a default or a limit rests on."""

    id: str
    value: float
    unit: str
    what: str
    source: str
    status: str
    note: str


TABLES: dict[str, type] = {"hydraulics": Hydraulic}


@cache
def hydraulics() -> dict[str, Hydraulic]:
    """All figures by id."""
    return {row.id: row for row in load("hydraulics", Hydraulic)}


def figure(row_id: str) -> float:
    """The value of one row, for a module to keep as its constant.

    Examples
    --------
    >>> figure("hw_flow_power")
    1.852
    """
    return hydraulics()[row_id].value


def check() -> None:
    """Ids are unique, values are above 0, and each limit stands above its lower twin.

    Raises
    ------
    BadTable
        A row breaks one of these rules.
    """
    rows = load("hydraulics", Hydraulic)
    seen: set[str] = set()
    for line, row in enumerate(rows, start=2):
        if row.id in seen:
            raise BadTable("hydraulics", line, "id", row.id, "is there twice")
        if row.value <= 0:
            raise BadTable("hydraulics", line, "value", row.value, "must be above 0")
        seen.add(row.id)
    for low, high in (
        ("laminar_below", "turbulent_above"),
        ("surge_unknown_share", "marginal_share"),
        ("regulator_low", "regulator_high"),
        ("eu_poor", "eu_good"),
        ("variation_tight", "variation_usual"),
    ):
        if figure(low) >= figure(high):
            raise BadTable("hydraulics", 1, "value", figure(low), f"of {low} must be under {high}")
