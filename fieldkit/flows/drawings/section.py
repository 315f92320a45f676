"""The cross-section of what was measured, with the tool that was on it and rivals beside it.

Two scales, both true: the section itself, and the spread of the outsides below it, enlarged,
because sizes a hundredth apart look the same at any size that fits a phone.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from fieldkit.engine.words import Figure, Text, say
from fieldkit.flows.block import Drawing
from fieldkit.flows.drawings.svg import BOLD, HELP, WIDTH, Sheet, in_a_row, lines_of

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


@dataclass(frozen=True, slots=True)
class _Cut:
    """What is cut across, and what its two diameters are from."""

    od_in: float
    u_od_in: float
    bore_in: float | None
    od_tool: str
    bore_tool: str


def cross_section(
    od_in: float,
    *,
    u_od_in: float | None = None,
    bore_in: float | None = None,
    rivals: Sequence[Rival] = (),
    od_tool: str = "",
    bore_tool: str = "",
) -> Drawing:
    """What was measured, to scale, with its rivals.

    Parameters
    ----------
    od_in : float
        Outside diameter, above 0. [in]
    u_od_in : float or None
        Its expanded uncertainty, drawn as a band over the rivals. [in]
    bore_in : float or None
        Bore, below the outside. [in]
    rivals : sequence of Rival
        What it may be, likeliest first. [in]
    od_tool : str
        What the outside is from: ``caliper``, ``strip``, ``screen``, ``listed`` (named, not
        measured), or empty where nobody told.
    bore_tool : str
        What the bore is from: ``drill``, ``listed``, or empty.
    """
    if bore_in is not None and not 0 < bore_in < od_in:
        bore_in = None
    cut = _Cut(od_in, u_od_in or 0.0, bore_in, od_tool, bore_tool)
    groups = _by_outside(rivals)
    top = 2 * _MIDDLE_Y + 8
    lines = [lines_of(name, WIDTH) for _, name in groups]
    height = top + (44 + sum(20 * len(one) + 26 for one in lines) if groups else 0)
    sheet = Sheet(height)
    _section(sheet, cut, [od for od, _ in groups])
    if groups:
        _spread(sheet, top, cut, [od for od, _ in groups], lines)
    return Drawing(say("Cut across, to scale."), sheet.markup(), _words(cut, groups))


def _by_outside(rivals: Sequence[Rival]) -> list[tuple[float, Text]]:
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
        told.append((od, first))
    return sorted(told)


def _section(sheet: Sheet, cut: _Cut, outsides: Sequence[float]) -> None:
    unit = _ACROSS / max(cut.od_in, *outsides, cut.od_in)
    x, y, radius = WIDTH / 2, _MIDDLE_Y, cut.od_in * unit / 2
    sheet.circle(x, y, radius, "wall section__measured", width=BOLD)
    if cut.bore_in is not None:
        hole = cut.bore_in * unit / 2
        sheet.circle(x, y, hole, "hole section__bore")
        if cut.bore_tool == "drill":
            sheet.circle(x, y, hole - 2, "tool section__drill", width=HELP)
        sheet.line(x - hole, y, x + hole, y, "help", width=HELP)
        sheet.say(x, y - 8, Figure(cut.bore_in, "in", 3), "middle")
    for od in outsides:
        sheet.circle(x, y, od * unit / 2, "rival section__rival", width=HELP)
    if cut.od_tool == "caliper":
        _jaws(sheet, x - radius, x + radius, y)
    elif cut.od_tool == "strip":
        sheet.circle(x, y, radius + 4, "strip section__strip", width=BOLD)
    sheet.span(x - radius, x + radius, 2 * _MIDDLE_Y - 18, Figure(cut.od_in, "in", 3))


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
    cut: _Cut,
    outsides: Sequence[float],
    lines: Sequence[list[str]],
) -> None:
    """The outsides, far enlarged: what was measured with its band, over each rival."""
    measured = cut.od_tool != "listed"
    u = cut.u_od_in if measured else 0.0
    low, high = min(*outsides, cut.od_in - u), max(*outsides, cut.od_in + u)
    room = max(high - low, 0.02)
    middle = (low + high) / 2
    left = (WIDTH - _SPREAD) / 2

    def to_x(inches: float) -> float:
        return left + (inches - middle + room / 2) / room * _SPREAD

    y = top + 18
    times = round(_SPREAD / room / (_ACROSS / max(cut.od_in, *outsides)))
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
            sheet.box(to_x(cut.od_in - u), y - 11, 2 * u / room * _SPREAD, 22, "band", width=0)
        sheet.line(left, y, left + _SPREAD, y, "help", width=HELP)
        if measured:
            here = to_x(cut.od_in)
            sheet.line(here, y - 11, here, y + 11, "section__here", width=BOLD)
        sheet.circle(to_x(od), y, 6, "dot section__place")
        y += 8


def _words(cut: _Cut, groups: Sequence[tuple[float, Text]]) -> Text:
    od, measured = Figure(cut.od_in, "in", 3), cut.od_tool != "listed"
    by_tool = {
        "caliper": say("The outside is {od} across, by caliper.", od=od),
        "strip": say("The outside is {od} across, by a strip of paper round it.", od=od),
        "screen": say("The outside is {od} across, by a circle on a screen.", od=od),
        "listed": say("It was not measured. Its listed outside is {od}.", od=od),
    }
    told = [by_tool.get(cut.od_tool, say("The outside is {od} across.", od=od))]
    if cut.bore_in is not None:
        bore = Figure(cut.bore_in, "in", 3)
        by_tool = {
            "drill": say("The hole is {bore} across, by the drill that slides in.", bore=bore),
            "listed": say("The hole of the likeliest is listed as {bore}.", bore=bore),
        }
        told.append(by_tool.get(cut.bore_tool, say("The hole is {bore} across.", bore=bore)))
    if cut.u_od_in and groups and measured:
        told.append(
            say(
                "The upright line is what was measured, the band give or take {u}.",
                u=Figure(cut.u_od_in, "in", 3),
            )
        )
    if groups:
        near = min(groups, key=lambda group: math.fabs(group[0] - cut.od_in))
        told.append(say("Nearest: {name}.", name=near[1]))
        told += [say("Beside it: {name}.", name=name) for _, name in groups if name is not near[1]]
    return in_a_row(*told)
