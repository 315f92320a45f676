"""An assembly read as one row of parts: each with its two ends, how wide they are and how deep."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from typing import Any

from fieldkit.engine.words import Figure, Text, say
from fieldkit.flows.drawings.svg import Said
from fieldkit.flows.localize import as_text
from fieldkit.flows.measures import bare
from fieldkit.tables.fittings import fittings, joints, made_by
from fieldkit.tables.joining import sockets
from fieldkit.tables.threads import taper_threads

#: Walls of hubs, of tubing and of bodies, as drawn. [in]
_HUB_WALL, _TUBE_WALL, BODY = 0.12, 0.05, 0.3
#: How far tubing goes on or in, and how much of pipe and tube is shown beyond. [in]
_TUBE_DEEP, SHOWN = 0.6, 0.55

_NAMES = {
    "pipe": say("pipe"),
    "run": say("pipe, uncut"),
    "tube": say("tubing"),
    "spigot": say("plain end (spigot)"),
    "npt-male": say("thread outside"),
    "hose-male": say("hose thread outside"),
}


@cache
def _end_names() -> dict[str, Text]:
    return {**{row.end_x: as_text(row.end_name) for row in joints().values()}, **_NAMES}


#: What is no moulded part, and the kind of both its ends.
_PLAIN = {"pipe": "pipe", "pipe_stub": "pipe", "tube": "tube"}
#: Ends that go into their fellow. A tube goes into what is not ridged.
_GOES_IN = {"pipe", "run", "spigot", "npt-male", "hose-male", "barb", "micro-barb", "collar"}
RIDGED = {row.end_x for row in joints().values() if row.seals == "bore"}
THREADED_ENDS = {"npt-male", "npt-female", "swivel-female", "hose-male", "hose-female"}


@dataclass(frozen=True, slots=True)
class End:
    """One end: its kind and trade size; how wide where it meets its fellow, and how deep. [in]"""

    kind: str
    size: str
    across: float
    deep: float
    goes_in: bool

    @property
    def outside(self) -> float:
        """How wide it is to look at."""
        wall = _TUBE_WALL if self.kind == "tube" else _HUB_WALL
        return self.across if self.goes_in else self.across + 2 * wall

    @property
    def words(self) -> Text:
        name = _end_names()[self.kind]
        if not self.size:
            return name
        return say("{end}, {size}", end=name, size=_size_told(self.size))


def _size_told(size: str) -> Said:
    """A size as it is sold: a measured one as a figure, a range from the one to the other."""
    plain = re.fullmatch(r"(\d\.\d+)(?:-(\d\.\d+))?", size)
    if plain is None:
        return size if "mm" in size else say("{size} in", size=size)
    low, high = plain.groups()
    if high is None:
        return Figure(float(low), "in", 3)
    return say("{low}–{high}", low=bare(float(low), "in", 3), high=Figure(float(high), "in", 3))


@dataclass(frozen=True, slots=True)
class Piece:
    """A pipe, a part or a tube, from its near end to its far end; either may be cut off."""

    name: str
    near: End | None
    far: End | None

    @property
    def long(self) -> float:
        ends = (self.near.deep if self.near else SHOWN) + (self.far.deep if self.far else SHOWN)
        return ends + (BODY if self.near and self.far else 0.0)

    @property
    def widest(self) -> float:
        return max(end.outside for end in (self.near, self.far) if end)


def in_one_row(made: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """The joints with each that stands on both sides of a tee told once, with its ``times``."""
    row: list[dict[str, Any]] = []
    for joint in made:
        if row and all(joint[key] == row[-1][key] for key in ("kind", "between", "nominal")):
            row[-1]["times"] += 1
        else:
            row.append({**joint, "times": 1})
    return row


def pieces_of(made: Sequence[Mapping[str, Any]]) -> list[Piece] | None:
    """The row from one side to the other; None where a joint's ends do not fit its parts."""
    names = [made[0]["between"][0], *(joint["between"][1] for joint in made)]
    if any(one["between"][1] != after["between"][0] for one, after in pairwise(made)):
        return None  # not one row
    ends: dict[tuple[int, str], End] = {}
    for number, joint in enumerate(made):
        pair = _meeting(joint, names[number], names[number + 1])
        if pair is None:
            return None
        ends[number, "far"], ends[number + 1, "near"] = pair
    return [
        Piece(name, ends.get((number, "near")), ends.get((number, "far")))
        for number, name in enumerate(names)
    ]


def _meeting(joint: Mapping[str, Any], near: str, far: str) -> tuple[End, End] | None:
    """The two ends of a joint, on the nearer thing and on the farther one."""
    row = joints()[joint["kind"]]
    for one, other in ((row.end_x, row.end_y), (row.end_y, row.end_x)):
        size = _size(near, one, joint["nominal"]) or _size(far, other, joint["nominal"])
        if _has(near, one) and _has(far, other) and size is not None:
            across = _across(joint["kind"], size)
            deep = _deep(joint["kind"], size)
            if across is None:
                return None
            return (
                _end(one, _size(near, one, joint["nominal"]) or size, across, deep, fellow=other),
                _end(other, _size(far, other, joint["nominal"]) or size, across, deep, fellow=one),
            )
    return None


def _end(kind: str, size: str, across: float, deep: float, *, fellow: str) -> End:
    goes_in = fellow not in RIDGED if kind == "tube" else kind in _GOES_IN
    return End(kind, size, across, deep, goes_in)


def _ends_of(thing: str) -> tuple[tuple[str, str], ...]:
    row = fittings().get(thing)
    if row is None:
        return ()
    return (
        (row.end_a, row.size_a),
        (row.end_b, row.size_b),
        (row.end_c, row.size_c),
        (row.end_d, row.size_d),
        (row.end_e, row.size_e),
    )


def _has(thing: str, kind: str) -> bool:
    if thing in _PLAIN:
        return kind == _PLAIN[thing] or (thing, kind) == ("pipe", "run")
    if thing in fittings():
        return any(one == kind for one, _ in _ends_of(thing))
    return kind in {"npt-male", "npt-female"}  # a riser or an outlet there


def _size(thing: str, kind: str, nominal: str) -> str | None:
    """The size of that end, preferring the one of the joint's nominal size."""
    sizes = [size for one, size in _ends_of(thing) if one == kind]
    if nominal and nominal in sizes:
        return nominal
    if sizes:
        return sizes[0]
    return nominal if nominal and thing != "tube" else None


def _across(kind: str, size: str) -> float | None:
    """How wide the two ends are where they meet. [in]"""
    if joints()[kind].on_pipe:
        row = sockets().get(size)
        return None if row is None else row.pipe_od_in
    if kind in made_by("thread"):
        thread = taper_threads().get(size)
        return None if thread is None else thread.major_od_in
    plain = [float(one) for one in re.findall(r"\d{1,3}\.\d{1,4}", size[:80])]
    if plain:
        return sum(plain) / len(plain)
    # Sold by a trade size of bore, such as 1/2 or 1/4.
    fraction = re.search(r"(\d{1,3})(?:/([1-9]\d?))?", size)
    return None if fraction is None else int(fraction[1]) / int(fraction[2] or 1)


def _deep(kind: str, size: str) -> float:
    """How far one end goes into or over the other. [in]"""
    if joints()[kind].on_pipe:
        depth = sockets()[size].depth_sch40_in if size in sockets() else None
        return _TUBE_DEEP if depth is None else depth
    if kind in made_by("thread") and size in taper_threads():
        return taper_threads()[size].effective_length_in or _TUBE_DEEP
    return _TUBE_DEEP
