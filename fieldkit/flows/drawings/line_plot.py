"""A plot of one or more quantities along a line, small enough to read on a phone."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from fieldkit.engine.words import Text, say
from fieldkit.flows.block import Drawing
from fieldkit.flows.drawings.scale import Scale
from fieldkit.flows.drawings.svg import BOLD, THIN, WIDTH, Sheet, lines_of, room_of

_LEFT, _RIGHT = 50.0, WIDTH - 12.0
_TOP, _PANEL, _GAP, _FOOT = 30.0, 150.0, 56.0, 50.0
_MOST_POINTS = 120


@dataclass(frozen=True, slots=True)
class Limit:
    """A level drawn across the panel, in the panel's unit, and what it is."""

    value: float
    label: Text


@dataclass(frozen=True, slots=True)
class Panel:
    """One quantity along the line, with its unit and its limits."""

    title: Text
    unit: str
    values: tuple[float, ...]
    limits: tuple[Limit, ...] = ()


def line_plot(
    distances_ft: Sequence[float], panels: Sequence[Panel], *, title: Text, words: Text
) -> Drawing:
    """The panels, one under another, over a shared distance.

    Parameters
    ----------
    distances_ft : sequence of float
        Distance of each value from the start, rising. [ft]
    panels : sequence of Panel
        What to draw; each has as many values as there are distances.
    title, words : Text
        What it is, and the same in words.

    Returns
    -------
    Drawing
        The plot.

    Raises
    ------
    ValueError
        There is nothing to draw, or lengths differ: a mistake in the program.
    """
    if not distances_ft or any(len(panel.values) != len(distances_ft) for panel in panels):
        raise ValueError("each panel needs one value a distance")
    sheet = Sheet(_TOP + len(panels) * _PANEL + (len(panels) - 1) * _GAP + _FOOT)
    far = max(distances_ft[-1], 1e-9)
    to_x = Scale((0.0, far), "ft", start=_LEFT, end=_RIGHT, snug=True)
    for number, panel in enumerate(panels):
        _panel(sheet, panel, distances_ft, _TOP + number * (_PANEL + _GAP), to_x)
    bottom = sheet.height - _FOOT
    for place, figure in to_x.ticks:
        sheet.say(place, bottom + 20, figure, "end" if place > _RIGHT - 16 else "middle")
    sheet.say(
        (_LEFT + _RIGHT) / 2, bottom + 42, say("{unit} from the start", unit=to_x.unit), "middle"
    )
    return Drawing(title, sheet.markup(), words)


def _panel(
    sheet: Sheet, panel: Panel, distances_ft: Sequence[float], top: float, to_x: Scale
) -> None:
    levels = [*panel.values, *(limit.value for limit in panel.limits)]
    to_y = Scale([min(0.0, *levels), max(levels)], panel.unit, start=top + _PANEL, end=top)
    sheet.say(2, top - 12, say("{what}, {unit}", what=panel.title, unit=to_y.unit), bold=True)
    sheet.levels(to_y.ticks, _LEFT, _RIGHT, away=6)
    every = max(1, math.ceil(len(distances_ft) / _MOST_POINTS))
    kept = [*range(0, len(distances_ft), every)]
    if kept[-1] != len(distances_ft) - 1:
        kept.append(len(distances_ft) - 1)
    places = [(to_x(distances_ft[i]), to_y(panel.values[i])) for i in kept]
    for limit in panel.limits:
        _limit(sheet, limit, to_y(limit.value), top, places)
    if len(places) > 1:
        sheet.trace(places, "plot__line", width=BOLD)
    else:
        sheet.circle(*places[0], 4, "dot plot__line")


def _limit(
    sheet: Sheet, limit: Limit, level: float, top: float, places: Sequence[tuple[float, float]]
) -> None:
    """A level and its words, which stand above it unless the line runs there."""
    sheet.line(_LEFT, level, _RIGHT, level, "limit plot__limit", width=THIN)
    lines = lines_of(limit.label, _RIGHT - _LEFT)
    room = 20.0 * len(lines)
    reach = _RIGHT - max(room_of(line) for line in lines) - 8
    crossed = any(x > reach and level - room - 4 < y < level + 1 for x, y in places)
    below = crossed or level < top + room + 2
    foot = level + 18 if below else level - 6 - 20 * (len(lines) - 1)
    for row, line in enumerate(lines):
        sheet.say(_RIGHT, foot + 20 * row, line, "end")
