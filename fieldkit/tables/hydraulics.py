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


@dataclass(frozen=True, slots=True)
class ValveLoss:
    """Loss of a valve so far open, in velocity heads of its pipe; 1 is fully open."""

    valve: str
    open_share: float
    loss_k: float
    source: str
    status: str
    note: str


TABLES: dict[str, type] = {"hydraulics": Hydraulic, "valve_closing": ValveLoss}


@cache
def hydraulics() -> dict[str, Hydraulic]:
    """All figures by id."""
    return {row.id: row for row in load("hydraulics", Hydraulic)}


@cache
def valve_closing() -> dict[str, tuple[ValveLoss, ...]]:
    """Losses of each valve as it closes, fully open first."""
    rows = sorted(load("valve_closing", ValveLoss), key=lambda row: -row.open_share)
    names = dict.fromkeys(row.valve for row in load("valve_closing", ValveLoss))
    return {name: tuple(row for row in rows if row.valve == name) for name in names}


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
    for valve, losses in valve_closing().items():
        ks = [row.loss_k for row in losses]
        if losses[0].open_share != 1 or ks != sorted(ks) or ks[0] <= 0:
            raise BadTable("valve_closing", 1, "loss_k", valve, "must rise from fully open on")
    for low, high in (
        ("laminar_below", "turbulent_above"),
        ("surge_unknown_share", "marginal_share"),
        ("regulator_low", "regulator_high"),
        ("eu_poor", "eu_good"),
        ("variation_tight", "variation_usual"),
    ):
        if figure(low) >= figure(high):
            raise BadTable("hydraulics", 1, "value", figure(low), f"of {low} must be under {high}")
