"""The cross-section of what was measured, with the caliper's jaws on it and rivals beside it.

Two scales, both true: the section itself, and the spread of the outsides below it, enlarged,
because sizes a hundredth apart look the same at any size that fits a phone.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from fieldkit.engine.words import Figure, say
from fieldkit.flows.drawings.svg import BOLD, HELP, WIDTH, Sheet, wrapped
from fieldkit.flows.step import Drawing

_ACROSS = 150.0  # the measured outside, in units
_MIDDLE_Y = 112.0
_SPREAD = 290.0  # the enlarged scale, in units
_MOST_RIVALS = 5


@dataclass(frozen=True, slots=True)
class Rival:
    """A product that it may be: its outside, and its bore where known. [in]"""

    name: str
    od_in: float
    bore_in: float | None = None


def cross_section(
    od_in: float,
    *,
    u_od_in: float | None = None,
    bore_in: float | None = None,
    rivals: Sequence[Rival] = (),
    jaws: bool = True,
) -> Drawing:
    """What was measured, to scale, with its rivals.

    Parameters
    ----------
    od_in : float
        Measured outside diameter, above 0. [in]
    u_od_in : float or None
        Its expanded uncertainty, drawn as a band over the rivals. [in]
    bore_in : float or None
        Measured or listed bore, below the outside. [in]
    rivals : sequence of Rival
        What it may be, likeliest first. [in]
    jaws : bool
        Whether a caliper was on it; else a strip of paper lies round it.
    """
    groups = _by_outside(rivals)
    words = _words(od_in, u_od_in, bore_in, groups)
    top = 2 * _MIDDLE_Y + 8
    lines = [wrapped(name, WIDTH) for _, name in groups]
    height = top + (44 + sum(20 * len(one) + 26 for one in lines) if groups else 0)
    sheet = Sheet(height)
    _section(sheet, od_in, bore_in, groups, jaws=jaws)
    if groups:
        _spread(
            sheet,
            top,
            od_in=od_in,
            u_od_in=u_od_in,
            outsides=[od for od, _ in groups],
            lines=lines,
        )
    return Drawing(say("Cut across, to scale."), sheet.markup(), words)


def _by_outside(rivals: Sequence[Rival]) -> list[tuple[float, str]]:
    """Rivals of one outside together, for they lie on one another; in order of outside."""
    by_od: dict[float, list[str]] = {}
    for rival in rivals:
        by_od.setdefault(rival.od_in, []).append(rival.name)
    told = []
    for od, names in list(by_od.items())[:_MOST_RIVALS]:
        more = len(names) - 1
        first = (
            say("{od}: {name}", od=Figure(od, "in", 3), name=names[0])
            if not more
            else say("{od}: {name} and {n} more", od=Figure(od, "in", 3), name=names[0], n=more)
        )
        told.append((od, str(first)))
    return sorted(told)


def _section(
    sheet: Sheet,
    od_in: float,
    bore_in: float | None,
    groups: Sequence[tuple[float, str]],
    *,
    jaws: bool,
) -> None:
    unit = _ACROSS / max(od_in, *(od for od, _ in groups), od_in)
    x, y, radius = WIDTH / 2, _MIDDLE_Y, od_in * unit / 2
    sheet.circle(x, y, radius, "wall section__measured", width=BOLD)
    if bore_in is not None and 0 < bore_in < od_in:
        sheet.circle(x, y, bore_in * unit / 2, "hole section__bore")
        sheet.line(x - bore_in * unit / 2, y, x + bore_in * unit / 2, y, "help", width=HELP)
        sheet.say(x, y - 8, str(Figure(bore_in, "", 3)), "middle")
    for od, _ in groups:
        sheet.circle(x, y, od * unit / 2, "rival section__rival", width=HELP)
    if jaws:
        _jaws(sheet, x - radius, x + radius, y)
    else:
        sheet.circle(x, y, radius + 4, "strip section__strip", width=BOLD)
    sheet.span(x - radius, x + radius, 2 * _MIDDLE_Y - 18, str(Figure(od_in, "in", 3)))


def _jaws(sheet: Sheet, left: float, right: float, y: float) -> None:
    """A caliper hung from above: its beam, the fixed jaw and the sliding one, faces on the pipe."""
    beam, tip = 8.0, y + 26.0
    sheet.box(left - 62, beam, WIDTH - (left - 62) - 8, 14, "tool")
    for face, away in ((left, -1), (right, 1)):
        sheet.shape(
            [
                (face, beam + 14),
                (face, tip),
                (face + away * 7, tip),
                (face + away * 24, beam + 46),
                (face + away * 24, beam + 14),
            ],
            "tool section__jaw",
        )
    for mark in range(1, int((WIDTH - 20 - right - 30) / 8)):
        sheet.line(
            right + 30 + 8 * mark, beam + 14, right + 30 + 8 * mark, beam + 8, "help", width=HELP
        )


def _spread(
    sheet: Sheet,
    top: float,
    *,
    od_in: float,
    u_od_in: float | None,
    outsides: Sequence[float],
    lines: Sequence[list[str]],
) -> None:
    u = u_od_in or 0.0
    low, high = min(*outsides, od_in - u), max(*outsides, od_in + u)
    room = max(high - low, 0.02)
    middle = (low + high) / 2
    left = (WIDTH - _SPREAD) / 2

    def to_x(inches: float) -> float:
        return left + (inches - middle + room / 2) / room * _SPREAD

    y = top + 18
    times = round(_SPREAD / room / (_ACROSS / max(od_in, *outsides)))
    title = (
        say("The outsides, {times} times larger", times=times)
        if times > 1
        else say("The outsides on one scale")
    )
    sheet.say(0, y, title, bold=True)
    y += 12
    for od, one in zip(outsides, lines, strict=True):
        for words in one:
            y += 20
            sheet.say(0, y, words)
        y += 18
        if u:
            sheet.box(
                to_x(od_in - u), y - 11, to_x(od_in + u) - to_x(od_in - u), 22, "band", width=0
            )
        sheet.line(left, y, left + _SPREAD, y, "help", width=HELP)
        sheet.line(to_x(od_in), y - 11, to_x(od_in), y + 11, "section__here", width=BOLD)
        sheet.circle(to_x(od), y, 6, "dot section__place")
        y += 8


def _words(
    od_in: float,
    u_od_in: float | None,
    bore_in: float | None,
    groups: Sequence[tuple[float, str]],
) -> str:
    told = [say("The outside is {od} across.", od=Figure(od_in, "in", 3))]
    if bore_in is not None:
        told.append(say("The hole is {bore} across.", bore=Figure(bore_in, "in", 3)))
    if u_od_in and groups:
        told.append(
            say(
                "The upright line is what was measured, the band give or take {u}.",
                u=Figure(u_od_in, "in", 3),
            )
        )
    if groups:
        near = min(groups, key=lambda group: math.fabs(group[0] - od_in))
        told.append(say("Nearest: {name}.", name=near[1]))
        others = "; ".join(name for od, name in groups if od != near[0])
        if others:
            told.append(say("Beside it: {names}.", names=others))
    return " ".join(told)
