"""What a measurement may be off, and ways to a size without a caliper."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import cache

from fieldkit.tables.load import BadTable, load


@dataclass(frozen=True, slots=True)
class UncertaintyRow:
    """One figure of the uncertainty budget, or of the rules that go with it."""

    id: str
    name: str
    method: str
    material: str
    value: float
    unit: str
    source: str
    status: str
    note: str


@dataclass(frozen=True, slots=True)
class Gauge:
    """A thing at hand that tells a size: what ``goes`` on or in, and what ``stops``.

    ``measure`` is OD or ID; the diameter then lies from ``low_in`` to ``high_in``.
    """

    id: str
    kind: str
    goes: str
    stops: str
    measure: str
    low_in: float
    high_in: float
    means: str
    source: str
    status: str
    note: str


@dataclass(frozen=True, slots=True)
class MeasuringWay:
    """A way to a size without a caliper; ``side`` is pipe, tube or any."""

    id: str
    side: str
    way: str
    how: str
    source: str
    status: str


TABLES: dict[str, type] = {
    "uncertainty": UncertaintyRow,
    "gauges": Gauge,
    "measuring_ways": MeasuringWay,
}


@cache
def uncertainty() -> dict[str, UncertaintyRow]:
    """All figures of the budget by id."""
    return {row.id: row for row in load("uncertainty", UncertaintyRow)}


@cache
def gauges() -> tuple[Gauge, ...]:
    """All go and no-go gauges."""
    return load("gauges", Gauge)


@cache
def measuring_ways() -> tuple[MeasuringWay, ...]:
    """All ways without a caliper, best first."""
    return load("measuring_ways", MeasuringWay)


def check() -> None:
    """Figures are above 0; a gauge's span is in order and, for drills, is its two sizes."""
    for line, row in enumerate(uncertainty().values(), start=2):
        if row.value <= 0:
            raise BadTable("uncertainty", line, "value", row.value, "must be above 0")
    for line, gauge in enumerate(gauges(), start=2):
        if gauge.measure not in {"OD", "ID"}:
            raise BadTable("gauges", line, "measure", gauge.measure, "must be OD or ID")
        if not 0 < gauge.low_in <= gauge.high_in:
            raise BadTable("gauges", line, "low_in", gauge.low_in, "must be above 0, up to high_in")
        if gauge.kind == "drill" and (
            gauge.low_in != float(Fraction(gauge.goes))
            or gauge.high_in != float(Fraction(gauge.stops))
        ):
            raise BadTable("gauges", line, "goes", gauge.goes, "must be the span's own sizes")
    for line, way in enumerate(measuring_ways(), start=2):
        if way.side not in {"pipe", "tube", "any"}:
            raise BadTable("measuring_ways", line, "side", way.side, "must be pipe, tube or any")
