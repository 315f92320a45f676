"""Solvent-cemented joints and pushed-on tube ends: schedules, sockets, cement, clamps.

Two published schedules of set and cure times, A and B, stand side by side as printed. Which of
them rules is worked out where they are used, so that neither is ever edited to suit the other.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache

from fieldkit.tables.load import BadTable, load


@dataclass(frozen=True, slots=True)
class SetTimeRow:
    """Minutes before careful handling; sizes are nominal, ``largest_in`` None is open-ended."""

    schedule: str
    coldest_f: float
    warmest_f: float
    smallest_in: float
    largest_in: float | None
    minutes: float
    source: str
    status: str
    note: str


@dataclass(frozen=True, slots=True)
class CureTimeRow:
    """Minutes before a pressure above ``over_psi`` and up to ``up_to_psi``."""

    schedule: str
    coldest_f: float
    warmest_f: float
    smallest_in: float
    largest_in: float | None
    over_psi: float
    up_to_psi: float
    minutes: float
    source: str
    status: str
    note: str


@dataclass(frozen=True, slots=True)
class Socket:
    """A tapered socket: wide at the entrance, tighter at the bottom. Depths are least depths."""

    size: str
    pipe_od_in: float
    pipe_od_tol_in: float
    entrance_in: float
    bottom_in: float
    diameter_tol_in: float
    depth_sch40_in: float
    depth_sch80_in: float
    source: str
    status: str
    note: str


@dataclass(frozen=True, slots=True)
class CementChoice:
    """One body of cement that a wall allows, up to a nominal size; ``rank`` rises with body."""

    wall: str
    up_to_in: float
    body: str
    rank: int
    source: str
    status: str
    note: str


@dataclass(frozen=True, slots=True)
class JointsPerQuart:
    """Joints that a US quart of cement makes; primer makes ``primer_factor`` times as many."""

    size_in: float
    cement_joints: float
    primer_factor: float
    source: str
    status: str
    note: str


@dataclass(frozen=True, slots=True)
class ClampRule:
    """Clamps that a barb needs, by kind of tube, over one pressure and up to another."""

    tube: str
    over_psi: float
    up_to_psi: float
    clamps: int
    source: str
    status: str
    note: str


TABLES: dict[str, type] = {
    "set_times": SetTimeRow,
    "cure_times": CureTimeRow,
    "sockets": Socket,
    "cement_choice": CementChoice,
    "joints_per_quart": JointsPerQuart,
    "clamp_rules": ClampRule,
}


@cache
def set_times() -> tuple[SetTimeRow, ...]:
    """Rows of both set schedules."""
    return load("set_times", SetTimeRow)


@cache
def cure_times() -> tuple[CureTimeRow, ...]:
    """Rows of both cure schedules."""
    return load("cure_times", CureTimeRow)


@cache
def sockets() -> dict[str, Socket]:
    """Sockets by trade size."""
    return {row.size: row for row in load("sockets", Socket)}


@cache
def cement_choices() -> tuple[CementChoice, ...]:
    """Allowed cements, the lightest body first."""
    return tuple(sorted(load("cement_choice", CementChoice), key=lambda row: row.rank))


@cache
def joints_per_quart() -> tuple[JointsPerQuart, ...]:
    """Joints per quart, the smallest size first."""
    return tuple(sorted(load("joints_per_quart", JointsPerQuart), key=lambda row: row.size_in))


@cache
def clamp_rules() -> tuple[ClampRule, ...]:
    """Clamp rules, the lowest pressure first."""
    return tuple(sorted(load("clamp_rules", ClampRule), key=lambda row: row.over_psi))


def _no_shorter_in_the_cold(table: str, rows: Iterable[SetTimeRow | CureTimeRow]) -> None:
    """Within one schedule, size and pressure, a colder band never takes less time."""
    warmest_first = sorted(enumerate(rows, start=2), key=lambda item: -item[1].coldest_f)
    longest: dict[tuple[object, ...], float] = {}
    for line, row in warmest_first:
        pressure = (row.over_psi, row.up_to_psi) if isinstance(row, CureTimeRow) else ()
        which = (row.schedule, row.smallest_in, row.largest_in, *pressure)
        if row.minutes < longest.get(which, 0.0):
            raise BadTable(table, line, "minutes", row.minutes, "is less than in a warmer band")
        longest[which] = row.minutes


def check() -> None:
    """Hold the tables to what must be true of any such schedule.

    Raises
    ------
    BadTable
        A row breaks a rule.
    """
    _no_shorter_in_the_cold("set_times", set_times())
    _no_shorter_in_the_cold("cure_times", cure_times())
    for line, cure in enumerate(cure_times(), start=2):
        if not cure.over_psi < cure.up_to_psi:
            raise BadTable("cure_times", line, "up_to_psi", cure.up_to_psi, "is not above over_psi")
        joins_on = cure.over_psi == 0 or any(
            row.up_to_psi == cure.over_psi
            and (row.schedule, row.coldest_f, row.smallest_in)
            == (cure.schedule, cure.coldest_f, cure.smallest_in)
            for row in cure_times()
        )
        if not joins_on:
            rule = "leaves a gap above the pressure band before it"
            raise BadTable("cure_times", line, "over_psi", cure.over_psi, rule)
    for line, socket in enumerate(sockets().values(), start=2):
        if not socket.bottom_in < socket.pipe_od_in < socket.entrance_in:
            rule = "does not lie between the socket's bottom and its entrance"
            raise BadTable("sockets", line, "pipe_od_in", socket.pipe_od_in, rule)
        if socket.depth_sch80_in < socket.depth_sch40_in:
            rule = "is less than the Sch 40 depth"
            raise BadTable("sockets", line, "depth_sch80_in", socket.depth_sch80_in, rule)
    for wall in {row.wall for row in cement_choices()}:
        reach = [row.up_to_in for row in cement_choices() if row.wall == wall]
        if reach != sorted(reach):
            rule = f"a heavier body must reach at least as far on a {wall} wall"
            raise BadTable("cement_choice", 1, "up_to_in", reach, rule)
