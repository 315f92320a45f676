"""An assembly as its parts in a row: taken apart with each end named, and put together.

Diameters of pipe, sockets, threads and tube ends, and the depths of sockets and threads, are to
one scale. The bodies between two ends are only drawn.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from fieldkit.engine.words import Figure, Text, say
from fieldkit.flows.drawings.svg import BOLD, HELP, WIDTH, Said, Sheet, in_a_row
from fieldkit.flows.stages import CEMENTED, THREADED
from fieldkit.flows.step import Drawing
from fieldkit.tables.fittings import fittings, joints
from fieldkit.tables.joining import sockets
from fieldkit.tables.threads import taper_threads

#: Walls of hubs, of tubing and of bodies, as drawn. [in]
_HUB_WALL, _TUBE_WALL, _BODY = 0.12, 0.05, 0.3
#: How far tubing goes on or in, and how much of pipe and tube is shown beyond. [in]
_TUBE_DEEP, _SHOWN = 0.6, 0.55

_NAMES = {
    "pipe": say("pipe"),
    "tube": say("tubing"),
    "socket": say("glue socket"),
    "spigot": say("plain end (spigot)"),
    "npt-male": say("thread outside"),
    "npt-female": say("thread inside"),
    "swivel-female": say("loose nut"),
    "hose-male": say("hose thread outside"),
    "hose-female": say("hose nut"),
    "barb": say("ridged end"),
    "micro-barb": say("small ridged end"),
    "collar": say("ridges and nut"),
    "ring": say("tight ring"),
    "grip-tube": say("grip for tubing"),
    "grip-pvc": say("grip for pipe"),
}
#: Ends that go into their fellow. A tube goes into what is not ridged.
_GOES_IN = {"pipe", "spigot", "npt-male", "hose-male", "barb", "micro-barb", "collar"}
_RIDGED = {"barb", "micro-barb", "collar"}
_THREADS = {"npt-male", "npt-female", "swivel-female", "hose-male", "hose-female"}


@dataclass(frozen=True, slots=True)
class _End:
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
        name = _NAMES[self.kind]
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
    return say(
        "{low} to {high}", low=Figure(float(low), "in", 3), high=Figure(float(high), "in", 3)
    )


@dataclass(frozen=True, slots=True)
class _Piece:
    """A pipe, a part or a tube, from its near end to its far end; either may be cut off."""

    name: str
    near: _End | None
    far: _End | None

    @property
    def long(self) -> float:
        ends = (self.near.deep if self.near else _SHOWN) + (self.far.deep if self.far else _SHOWN)
        return ends + (_BODY if self.near and self.far else 0.0)

    @property
    def widest(self) -> float:
        return max(end.outside for end in (self.near, self.far) if end)


def assembly_drawing(assembly: Mapping[str, Any]) -> Drawing | None:
    """The picture of one way to join, or None where its ends are not in the tables.

    Parameters
    ----------
    assembly : mapping
        One of the assemblies of the ``transition`` answer, as JSON.
    """
    made: Sequence[Mapping[str, Any]] = assembly["joints"]
    pieces = _pieces(made)
    if pieces is None:
        return None
    words = _words(pieces, made)
    widest = max(piece.widest for piece in pieces)
    unit = min(52.0, 104.0 / widest)
    together = _together_unit(pieces, unit)
    apart_high = _apart_high(pieces, unit)
    sheet = Sheet(apart_high + 76 + widest * together)
    _draw_apart(sheet, pieces, made, unit)
    _draw_together(sheet, pieces, together, apart_high + 40)
    return Drawing(say("The parts in a row."), sheet.markup(), words)


# ── What the tables say ──────────────────────────────────────────────────────────────────────


def _pieces(made: Sequence[Mapping[str, Any]]) -> list[_Piece] | None:
    """The row from one side to the other; None where a joint's ends do not fit its parts."""
    names = [made[0]["between"][0], *(joint["between"][1] for joint in made)]
    if any(one["between"][1] != after["between"][0] for one, after in pairwise(made)):
        return None  # not one row: a branch
    ends: dict[tuple[int, str], _End] = {}
    for number, joint in enumerate(made):
        pair = _meeting(joint, names[number], names[number + 1])
        if pair is None:
            return None
        ends[number, "far"], ends[number + 1, "near"] = pair
    return [
        _Piece(name, ends.get((number, "near")), ends.get((number, "far")))
        for number, name in enumerate(names)
    ]


def _meeting(joint: Mapping[str, Any], near: str, far: str) -> tuple[_End, _End] | None:
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


def _end(kind: str, size: str, across: float, deep: float, *, fellow: str) -> _End:
    goes_in = fellow not in _RIDGED if kind == "tube" else kind in _GOES_IN
    return _End(kind, size, across, deep, goes_in)


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
    if thing in fittings():
        return any(one == kind for one, _ in _ends_of(thing))
    plain = {"pipe": {"pipe"}, "tube": {"tube"}}
    return kind in plain.get(thing, {"npt-male", "npt-female"})  # a riser or an outlet there


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
    if kind in CEMENTED or kind == "grip_pvc":
        row = sockets().get(size)
        return None if row is None else row.pipe_od_in
    if kind in THREADED:
        thread = taper_threads().get(size)
        return None if thread is None else thread.major_od_in
    plain = [float(one) for one in re.findall(r"\d+\.\d+", size)]
    if plain:
        return sum(plain) / len(plain)
    # Sold by a trade size of bore, such as 1/2 or 1/4.
    fraction = re.search(r"(\d+)(?:/(\d+))?", size)
    return None if fraction is None else int(fraction[1]) / int(fraction[2] or 1)


def _deep(kind: str, size: str) -> float:
    """How far one end goes into or over the other. [in]"""
    if kind in CEMENTED or kind == "grip_pvc":
        depth = sockets()[size].depth_sch40_in if size in sockets() else None
        return _TUBE_DEEP if depth is None else depth
    if kind in THREADED and size in taper_threads():
        return taper_threads()[size].effective_length_in or _TUBE_DEEP
    return _TUBE_DEEP


# ── Taken apart, from top to bottom ──────────────────────────────────────────────────────────

_AXIS, _LABEL_X, _GAP, _LEAST = 56.0, 118.0, 42.0, 30.0


def _zone(end: _End | None, unit: float) -> float:
    return max(_LEAST, (end.deep if end else _SHOWN) * unit)


def _apart_high(pieces: Sequence[_Piece], unit: float) -> float:
    zones = sum(
        sum(_zone(end, unit) for end in (piece.near, piece.far) if end)
        + (_LEAST if piece.near is None or piece.far is None else _BODY * unit)
        for piece in pieces
    )
    return 8 + zones + _GAP * (len(pieces) - 1)


def _draw_apart(
    sheet: Sheet, pieces: Sequence[_Piece], made: Sequence[Mapping[str, Any]], unit: float
) -> None:
    y = 4.0
    for number, piece in enumerate(pieces):
        if number:
            _joint_label(sheet, number, made[number - 1], y)
            y += _GAP
        # From here on the row runs down the page: along is y, across is x.
        places = []
        for end, near in ((piece.near, True), (piece.far, False)):
            if end is None:
                high, wide = _LEAST, piece.widest * unit
                sheet.box(_AXIS - wide / 2, y, wide, high, "wall")
            else:
                high = _zone(end, unit)
                long = end.deep * unit
                start = y if near else y + high - long
                places.append((end, y + high / 2 + 5))
                if high > long:  # the rest of the zone is body
                    wide = end.outside * unit
                    sheet.box(_AXIS - wide / 2, y + long if near else y, wide, high - long, "wall")
                _end_shape(sheet, end, start, long, unit, mouth_first=near)
            y += high
            if near and piece.near and piece.far:
                wide = piece.widest * unit
                sheet.box(_AXIS - wide / 2, y, wide, _BODY * unit, "wall")
                y += _BODY * unit
        for end, foot in places:
            sheet.line(_AXIS + end.outside * unit / 2 + 4, foot - 5, _LABEL_X - 6, foot - 5,
                       "help", width=HELP)  # fmt: skip
            sheet.say(_LABEL_X, foot, end.words)


def _end_shape(
    sheet: Sheet, end: _End, top: float, long: float, unit: float, *, mouth_first: bool
) -> None:
    wide, hole = end.outside * unit, end.across * unit
    sheet.box(_AXIS - wide / 2, top, wide, long, f"wall row__{end.kind}")
    if not end.goes_in:
        sheet.box(_AXIS - hole / 2, top, hole, long, f"hole row__hole-{end.kind}")
    if end.kind in _THREADS:
        for n in range(1, 5):
            y = top + long * n / 5
            sheet.line(_AXIS - hole / 2, y, _AXIS + hole / 2, y - 3, "help", width=HELP)
    if end.kind in _RIDGED:
        for n in range(3):
            y = top + long * (n + 0.6) / 3
            tip = y - 6 if mouth_first else y + 6
            for side in (-1, 1):
                edge = _AXIS + side * wide / 2
                sheet.trace([(edge, tip), (edge + side * 4, y), (edge, y)])
    if end.kind == "collar":
        y = top + long - 11 if mouth_first else top
        sheet.box(_AXIS - wide / 2 - 9, y, wide + 18, 11, "wall")


def _joint_label(sheet: Sheet, number: int, joint: Mapping[str, Any], y: float) -> None:
    middle = y + _GAP / 2
    sheet.line(_AXIS, y + 4, _AXIS, y + _GAP - 4, "mark", width=HELP)
    _badge(sheet, _AXIS, middle, number)
    sheet.say(_LABEL_X, middle + 5, _how(joint["kind"]), bold=True)


def _badge(sheet: Sheet, x: float, y: float, number: int) -> None:
    sheet.circle(x, y, 12, "hole")
    sheet.say(x, y + 5, str(number), "middle", bold=True)


def _how(kind: str) -> Text:
    if kind in CEMENTED:
        return say("glued, with cement")
    if kind in {"npt"}:
        return say("screwed, with tape or paste")
    if kind in THREADED:
        return say("screwed, with a washer")
    return say("pushed and locked") if kind in {"collar", "barb_clamped"} else say("pushed")


# ── Put together, from left to right ─────────────────────────────────────────────────────────


def _together_long(pieces: Sequence[_Piece]) -> float:
    return sum(piece.long for piece in pieces) - sum(
        piece.near.deep for piece in pieces if piece.near
    )


def _together_unit(pieces: Sequence[_Piece], unit: float) -> float:
    return min(unit, (WIDTH - 8) / _together_long(pieces))


def _draw_together(sheet: Sheet, pieces: Sequence[_Piece], unit: float, top: float) -> None:
    sheet.say(0, top - 12, say("Put together"), bold=True)
    high = max(piece.widest for piece in pieces) * unit
    middle = top + high / 2
    x = 4.0
    drawn: list[tuple[bool, float, float, float, str]] = []
    badges = []
    for number, piece in enumerate(pieces):
        if piece.near:
            x -= piece.near.deep * unit
            badges.append((x + piece.near.deep * unit / 2, number))
        place = x
        for end in (piece.near, piece.far):
            long = (end.deep if end else _SHOWN) * unit
            outside = end.outside if end else piece.widest
            goes_in = end is not None and end.goes_in
            css = f"wall together__{end.kind}" if end else "wall"
            drawn.append((goes_in, place, long, outside * unit, css))
            place += long
            if end is piece.near and piece.near and piece.far:
                drawn.append((False, place, _BODY * unit, piece.widest * unit, "wall"))
                place += _BODY * unit
        x = place
    # What goes in is drawn first, so that what it goes into covers it.
    for _, left, long, wide, css in sorted(drawn, key=lambda one: not one[0]):
        sheet.box(left, middle - wide / 2, long, wide, css)
    for place, number in badges:
        sheet.line(place, middle + high / 2, place, middle + high / 2 + 8, "mark", width=BOLD)
        _badge(sheet, place, middle + high / 2 + 20, number)


def _words(pieces: Sequence[_Piece], made: Sequence[Mapping[str, Any]]) -> Text:
    told = []
    for number, joint in enumerate(made, start=1):
        far, near = pieces[number - 1].far, pieces[number].near
        if far and near:
            told.append(
                say(
                    "{number}: {one} to {other}, {how}.",
                    number=number,
                    one=far.words,
                    other=near.words,
                    how=_how(joint["kind"]),
                )
            )
    return in_a_row(say("From pipe to tubing."), *told)
