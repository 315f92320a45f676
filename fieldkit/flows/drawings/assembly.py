"""An assembly as its parts in a row: taken apart with each end named, and put together.

Diameters of pipe, sockets, threads and tube ends, and the depths of sockets and threads, are to
one scale. The bodies between two ends are only drawn.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from fieldkit.engine.words import Text, say
from fieldkit.flows.block import Drawing
from fieldkit.flows.drawings.parts_row import (
    BODY,
    RIDGED,
    SHOWN,
    THREADED_ENDS,
    End,
    Piece,
    in_one_row,
    pieces_of,
)
from fieldkit.flows.drawings.svg import BOLD, HELP, WIDTH, Sheet, in_a_row
from fieldkit.flows.localize import as_text
from fieldkit.tables.fittings import joints, made_by


def assembly_drawing(assembly: Mapping[str, Any]) -> Drawing | None:
    """The picture of one way to join, or None where its ends are not in the tables.

    Parameters
    ----------
    assembly : mapping
        One of the assemblies of the ``transition`` answer, as JSON.
    """
    made = in_one_row(assembly["joints"])
    pieces = pieces_of(made)
    if pieces is None:
        return None
    words = _words(pieces, made)
    widest = max(piece.widest for piece in pieces)
    unit = min(52.0, 104.0 / widest)
    together = _together_unit(pieces, unit)
    apart_high = _apart_high(pieces, unit)
    sheet = Sheet(apart_high + 76 + widest * together)
    _draw_apart(sheet, pieces, made, unit)
    sheet.say(2, apart_high + 28, say("Put together"), bold=True)
    _draw_together(sheet, pieces, made, together, apart_high + 40)
    return Drawing(say("The parts in a row."), sheet.markup(), words)


def together_drawing(assembly: Mapping[str, Any]) -> Drawing | None:
    """The parts of one way put together, at their proportions; None where ends are not known."""
    made = in_one_row(assembly["joints"])
    pieces = pieces_of(made)
    if pieces is None:
        return None
    widest = max(piece.widest for piece in pieces)
    unit = _together_unit(pieces, 84.0 / widest)
    sheet = Sheet(40 + widest * unit)
    _draw_together(sheet, pieces, made, unit, 4)
    return Drawing(say("Put together, each size to scale."), sheet.markup(), _words(pieces, made))


# ── Taken apart, from top to bottom ──────────────────────────────────────────────────────────

_AXIS, _LABEL_X, _GAP, _LEAST = 56.0, 118.0, 42.0, 30.0


def _zone(end: End | None, unit: float) -> float:
    return max(_LEAST, (end.deep if end else SHOWN) * unit)


def _apart_high(pieces: Sequence[Piece], unit: float) -> float:
    zones = sum(
        sum(_zone(end, unit) for end in (piece.near, piece.far) if end)
        + (_LEAST if piece.near is None or piece.far is None else BODY * unit)
        for piece in pieces
    )
    return 8 + zones + _GAP * (len(pieces) - 1)


def _draw_apart(
    sheet: Sheet, pieces: Sequence[Piece], made: Sequence[Mapping[str, Any]], unit: float
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
            elif end.kind == "run":  # it runs on across the row
                high = _zone(end, unit)
                places.append((end, y + high / 2 + 5))
                sheet.box(2, y - _LEAST, 2 * _AXIS - 4, high + _LEAST, "wall row__run")
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
                sheet.box(_AXIS - wide / 2, y, wide, BODY * unit, "wall")
                y += BODY * unit
        for end, foot in places:
            sheet.line(_AXIS + end.outside * unit / 2 + 4, foot - 5, _LABEL_X - 6, foot - 5,
                       "help", width=HELP)  # fmt: skip
            sheet.say(_LABEL_X, foot, end.words)


def _end_shape(
    sheet: Sheet, end: End, top: float, long: float, unit: float, *, mouth_first: bool
) -> None:
    wide, hole = end.outside * unit, end.across * unit
    sheet.box(_AXIS - wide / 2, top, wide, long, f"wall row__{end.kind}")
    if not end.goes_in:
        sheet.box(_AXIS - hole / 2, top, hole, long, f"hole row__hole-{end.kind}")
    if end.kind in THREADED_ENDS:
        for n in range(1, 5):
            y = top + long * n / 5
            sheet.line(_AXIS - hole / 2, y, _AXIS + hole / 2, y - 3, "help", width=HELP)
    if end.kind in RIDGED:
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
    sheet.say(_LABEL_X, middle + 5, _how(joint), bold=True)


def _badge(sheet: Sheet, x: float, y: float, number: int) -> None:
    sheet.circle(x, y, 12, "hole")
    sheet.say(x, y + 5, str(number), "middle", bold=True)


def _how(joint: Mapping[str, Any]) -> Text:
    """How a joint is made, and whether on both sides of its tee."""
    how = as_text(joints()[joint["kind"]].how)
    return how if joint["times"] == 1 else say("{how}, on both sides", how=how)


# ── Put together, from left to right ─────────────────────────────────────────────────────────


def _together_long(pieces: Sequence[Piece]) -> float:
    return sum(piece.long for piece in pieces) - sum(
        piece.near.deep for piece in pieces if piece.near
    )


def _together_unit(pieces: Sequence[Piece], unit: float) -> float:
    return min(unit, (WIDTH - 8) / _together_long(pieces))


def _draw_together(
    sheet: Sheet,
    pieces: Sequence[Piece],
    made: Sequence[Mapping[str, Any]],
    unit: float,
    top: float,
) -> None:
    high = max(piece.widest for piece in pieces) * unit
    middle = top + high / 2
    x = 4.0
    drawn: list[tuple[bool, float, float, float, str]] = []
    badges = []
    for number, piece in enumerate(pieces):
        if piece.near:
            x -= piece.near.deep * unit
            badges.append((x, number, piece.near))
        place = x
        for end in (piece.near, piece.far):
            long = (end.deep if end else SHOWN) * unit
            outside = end.outside if end else piece.widest
            goes_in = end is not None and end.goes_in
            css = f"wall together__{end.kind}" if end else "wall"
            drawn.append((goes_in, place, long, outside * unit, css))
            place += long
            if end is piece.near and piece.near and piece.far:
                drawn.append((False, place, BODY * unit, piece.widest * unit, "wall"))
                place += BODY * unit
        x = place
    # What goes in is drawn first, so that what it goes into covers it.
    for _, left, long, wide, css in sorted(drawn, key=lambda one: not one[0]):
        sheet.box(left, middle - wide / 2, long, wide, css)
    for left, number, end in badges:
        _mark_joint(sheet, made[number - 1]["kind"], end, unit, at=(left, middle))
        place = left + end.deep * unit / 2
        sheet.line(place, middle + high / 2, place, middle + high / 2 + 8, "mark", width=BOLD)
        _badge(sheet, place, middle + high / 2 + 20, number)


def _mark_joint(sheet: Sheet, kind: str, end: End, unit: float, *, at: tuple[float, float]) -> None:
    """Cement as two bands along the pipe in its socket; a thread as slanted crests."""
    (left, middle), deep, across = at, end.deep * unit, end.across * unit
    if kind in made_by("cement"):
        for side in (-1, 1):
            y = middle + side * across / 2 - 2.5
            sheet.box(left, y, deep, 5, "band together__cement", width=HELP)
    elif kind in made_by("thread"):
        for crest in range(1, 5):
            x = left + deep * crest / 5
            ends = (middle - across / 2, middle + across / 2)
            sheet.line(x + 2, ends[0], x - 2, ends[1], "help together__thread", width=HELP)


def _words(pieces: Sequence[Piece], made: Sequence[Mapping[str, Any]]) -> Text:
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
                    how=_how(joint),
                )
            )
    return in_a_row(say("From pipe to tubing."), *told)
