"""The figures that a pressure test goes by: holds, limits and allowances."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from fieldkit.tables.load import load


@dataclass(frozen=True, slots=True)
class ProvingRule:
    """One figure of the trade's or of a standard's test method."""

    id: str
    name: str
    value: float
    unit: str
    source: str
    status: str
    note: str


TABLES: dict[str, type] = {"proving_rules": ProvingRule}


@cache
def proving_rules() -> dict[str, ProvingRule]:
    """All rules by id."""
    return {row.id: row for row in load("proving_rules", ProvingRule)}


def proving_value(rule_id: str) -> float:
    """The figure of one rule, in the unit its row names."""
    return proving_rules()[rule_id].value
