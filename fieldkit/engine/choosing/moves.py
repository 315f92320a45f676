"""The moves of the search: which parts go on an open end, and the least that must follow."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache, lru_cache
from typing import NamedTuple

from fieldkit.engine.choosing.fit import mate
from fieldkit.tables.fittings import TUBE_ENDS, End, Fitting, fittings, joints

#: A short piece of the job's own pipe between two sockets.
STUB = "pipe_stub"


class Way(NamedTuple):
    """A part entered by one of its ends."""

    part: str
    joint: str
    size: str
    onward: tuple[End, ...]
    tube_ends: tuple[End, ...]
    valve: bool
    turns: bool


@cache
def ways_in(kind: str, size: str, metal: bool) -> tuple[Way, ...]:
    """Every part that goes on an open end, entered by each end that is not the same again."""
    open_end = End(kind, size)
    ways: dict[Way, None] = {}
    for part in _usable(metal and kind == "npt-male"):
        for place, end in enumerate(part.ends):
            joint = mate(open_end, end) if end.kind not in TUBE_ENDS else None
            if isinstance(joint, str):
                rest = part.ends[:place] + part.ends[place + 1 :]
                ways[_way(part, joint, size, rest)] = None
    return tuple(ways)


@cache
def ways_between(size: str) -> tuple[Way, ...]:
    """Every part that goes into a cut, its two ends on the pipe's, or round the uncut run."""
    pipe = End("pipe", size)
    ways: dict[Way, None] = {}
    for part in _usable(False):
        if len(part.ends) < 3:
            continue
        taking = [end for end in part.ends if isinstance(mate(pipe, end), str)]
        if len(taking) >= 2:
            joint = mate(pipe, taking[0])
            assert isinstance(joint, str)  # noqa: S101  -- filtered above
            rest = list(part.ends)
            rest.remove(taking[0])
            rest.remove(taking[1])
            ways[_way(part, joint, size, tuple(rest))] = None
    return (*ways, *ways_in("run", size, False))


def _way(part: Fitting, joint: str, size: str, rest: tuple[End, ...]) -> Way:
    return Way(
        part.id,
        joint,
        size,
        tuple(end for end in rest if end.kind not in TUBE_ENDS),
        tuple(end for end in rest if end.kind in TUBE_ENDS),
        part.family == "valve",
        part.turns,
    )


def _usable(metal_thread: bool) -> Iterable[Fitting]:
    """The parts a search may take. The banded one is for a metal male thread, and only it is."""
    for part in fittings().values():
        threaded = any(end.kind == "npt-female" for end in part.ends)
        banded = "band" in part.made_of
        if part.ends and (banded if metal_thread and threaded else not banded):
            yield part


@cache
def joint_cost(kind: str) -> tuple[int, int, bool]:
    """Minutes in thousandths, strength of hand, and whether it is cemented."""
    row = joints()[kind]
    return round(row.minutes * 1000), row.hand_strength, row.cemented


class Least(NamedTuple):
    """The least that must still be spent from an open end on: parts, minutes, money."""

    parts: float
    minutes: float
    money: float


NEVER = Least(float("inf"), float("inf"), float("inf"))


@lru_cache(maxsize=64)
def least_to_finish(
    tube_ends: frozenset[End],
    kinds: frozenset[str],
    prices: frozenset[tuple[str, float]] | None,
) -> dict[tuple[str, str], Least]:
    """A floor under what each open end still costs: each count at its own best.

    Parameters
    ----------
    tube_ends : frozenset of End
        The tube ends that hold this tubing.
    kinds : frozenset of str
        The joints that may be made.
    prices : frozenset or None
        Pairs of part id and price.

    Returns
    -------
    dict
        By kind and size of the open end; ends from which no tube is reached are missing.

    Source
    ------
    fieldkit-rule
    """
    price = {} if prices is None else {one: round(p * 10_000) for one, p in prices}
    tube_minutes = {end: _least_tube_minutes(end, kinds) for end in tube_ends}
    found: dict[tuple[str, str], Least] = {}
    changed = True
    while changed:
        changed = False
        for end in _rigid_open_ends():
            before = found.get(end, NEVER)
            floors = [before]
            for way in ways_in(*end, False):
                if way.joint in kinds and all(e in tube_minutes for e in way.tube_ends):
                    on = [found.get((e.kind, e.size), NEVER) for e in way.onward]
                    on += [Least(0, tube_minutes[e], 0) for e in way.tube_ends[:1]]
                    floors.append(_with(on, way.joint, price.get(way.part, 0)))
            if end[0] == "socket" and "solvent_socket" in kinds:
                floors.append(_with([found.get(("pipe", end[1]), NEVER)], "solvent_socket", 0))
            best = Least(*map(min, zip(*floors, strict=True)))
            if best != before:
                found[end] = best
                changed = True
    return found


def _with(on: list[Least], kind: str, money: int) -> Least:
    """One part more, of that price and put on by that kind of joint, and all behind it."""
    parts, minutes, rest = map(sum, zip(Least(1, joint_cost(kind)[0], money), *on, strict=True))
    return Least(parts, minutes, rest)


@cache
def _rigid_open_ends() -> tuple[tuple[str, str], ...]:
    ends = {
        (e.kind, e.size) for p in fittings().values() for e in p.ends if e.kind not in TUBE_ENDS
    }
    return tuple(sorted(ends | {("pipe", size) for kind, size in ends if kind == "socket"}))


@cache
def _least_tube_minutes(end: End, kinds: frozenset[str]) -> int:
    held = {"grip-tube": "grip_tube", "micro-barb": "micro_barb", "barb": "barb_bare"}
    return joint_cost(held.get(end.kind, end.kind))[0]
