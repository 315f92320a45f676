"""A plot of one or more quantities along a line, small enough to read on a phone.

Drawn 360 units wide, so that on a phone one unit is about one pixel and the 15-unit type stays
readable. Colours come from the page: lines are ``currentColor`` or a class of the style sheet.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from xml.etree.ElementTree import Element, SubElement, tostring

WIDTH = 360.0
_LEFT, _RIGHT, _TOP, _PANEL, _GAP, _FOOT = 50.0, 12.0, 30.0, 150.0, 52.0, 50.0
_TYPE = "15"
_MOST_POINTS = 120


@dataclass(frozen=True, slots=True)
class Limit:
    """A level drawn across the panel, and what it is."""

    value: float
    label: str


@dataclass(frozen=True, slots=True)
class Panel:
    """One quantity along the line, with its limits."""

    title: str
    values: tuple[float, ...]
    limits: tuple[Limit, ...] = ()


def nice_ticks(low: float, high: float, most: int = 4) -> tuple[float, ...]:
    """Round numbers that span ``low`` to ``high``, at most about ``most`` steps of them.

    Examples
    --------
    >>> nice_ticks(0.0, 20.0)
    (0.0, 5.0, 10.0, 15.0, 20.0)
    >>> nice_ticks(15.2, 20.0)
    (14.0, 16.0, 18.0, 20.0)
    """
    least = 1e-6 * max(abs(low), abs(high), 1.0)  # a flat line still needs a scale
    rough = max(high - low, least) / most
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(power * m for m in (1.0, 2.0, 5.0, 10.0) if power * m >= rough * (1 - 1e-9))
    first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
    if first == last:
        last += 1
    return tuple(round(n * step, 10) for n in range(first, last + 1))


def line_plot(
    distances: Sequence[float], panels: Sequence[Panel], *, along: str, words: str
) -> str:
    """SVG markup of the panels, one under another, over a shared distance.

    Parameters
    ----------
    distances : sequence of float
        Distance of each value from the start, rising.
    panels : sequence of Panel
        What to draw; each has as many values as there are distances.
    along : str
        What the distance is, with its unit.
    words : str
        The picture in words, for those who cannot see it.

    Returns
    -------
    str
        One ``svg`` element, no style attribute and no script.

    Raises
    ------
    ValueError
        There is nothing to draw, or lengths differ: a mistake in the program.
    """
    if not distances or any(len(panel.values) != len(distances) for panel in panels):
        raise ValueError("each panel needs one value a distance")
    height = _TOP + len(panels) * _PANEL + (len(panels) - 1) * _GAP + _FOOT
    svg = Element(
        "svg",
        {
            "xmlns": "http://www.w3.org/2000/svg",
            "viewBox": f"0 0 {WIDTH:.0f} {height:.0f}",
            "class": "plot",
            "role": "img",
            "aria-label": words,
            "font-size": _TYPE,
            "fill": "currentColor",
        },
    )
    far = max(distances[-1], 1e-9)
    across = [tick for tick in nice_ticks(0.0, far, 4) if tick <= far]
    to_x = _Scale(0.0, far, _LEFT, WIDTH - _RIGHT)
    for number, panel in enumerate(panels):
        top = _TOP + number * (_PANEL + _GAP)
        _panel(svg, panel, distances, top, to_x)
    bottom = height - _FOOT
    for tick in across:
        anchor = "end" if to_x(tick) > WIDTH - _RIGHT - 16 else "middle"
        _text(svg, to_x(tick), bottom + 20, _number(tick), anchor)
    _text(svg, (_LEFT + WIDTH - _RIGHT) / 2, bottom + 42, along, "middle")
    return tostring(svg, encoding="unicode")


class _Scale:
    """A straight scale from values to places on the page."""

    __slots__ = ("_from", "_place", "_rate")

    def __init__(self, low: float, high: float, start: float, end: float) -> None:
        self._from, self._place = low, start
        self._rate = (end - start) / (high - low)

    def __call__(self, value: float) -> float:
        return self._place + (value - self._from) * self._rate


def _panel(
    svg: Element, panel: Panel, distances: Sequence[float], top: float, to_x: _Scale
) -> None:
    levels = [*panel.values, *(limit.value for limit in panel.limits)]
    ticks = nice_ticks(min(0.0, *levels), max(levels))
    to_y = _Scale(ticks[0], ticks[-1], top + _PANEL, top)
    _text(svg, 2, top - 12, panel.title, "start", weight="bold")
    for tick in ticks:
        _level(svg, to_y(tick), "plot__grid", "0.25")
        _text(svg, _LEFT - 6, to_y(tick) + 5, _number(tick), "end")
    every = max(1, math.ceil(len(distances) / _MOST_POINTS))
    kept = [*range(0, len(distances), every)]
    if kept[-1] != len(distances) - 1:
        kept.append(len(distances) - 1)
    places = [(to_x(distances[i]), to_y(panel.values[i])) for i in kept]
    for limit in panel.limits:
        level = to_y(limit.value)
        mark = _level(svg, level, "plot__limit", "1")
        mark.set("stroke-dasharray", "7 5")
        mark.set("stroke-width", "2")
        # The words stand above the limit unless the line runs there.
        crossed = any(x > WIDTH / 3 and level - 24 < y < level + 1 for x, y in places)
        below = crossed or level < top + 22
        _text(svg, WIDTH - _RIGHT, level + (18 if below else -6), limit.label, "end")
    points = [f"{x:.1f},{y:.1f}" for x, y in places]
    SubElement(
        svg,
        "polyline",
        {
            "points": " ".join(points),
            "class": "plot__line",
            "fill": "none",
            "stroke": "currentColor",
            "stroke-width": "3",
            "stroke-linejoin": "round",
        },
    )
    if len(places) == 1:
        x, y = places[0]
        SubElement(svg, "circle", {"cx": f"{x:.1f}", "cy": f"{y:.1f}", "r": "4"})


def _level(svg: Element, y: float, css: str, opacity: str) -> Element:
    place = {"x1": _LEFT, "y1": y, "x2": WIDTH - _RIGHT, "y2": y}
    return SubElement(
        svg,
        "line",
        {key: f"{value:.1f}" for key, value in place.items()}
        | {"class": css, "stroke": "currentColor", "stroke-opacity": opacity},
    )


def _text(
    svg: Element, x: float, y: float, words: str, anchor: str, *, weight: str = "normal"
) -> None:
    place = {"x": f"{x:.1f}", "y": f"{y:.1f}", "text-anchor": anchor, "font-weight": weight}
    SubElement(svg, "text", place).text = words


def _number(value: float) -> str:
    return f"{value:.10g}"
