"""A ruler on paper that reads an outside diameter straight off, when it is wrapped round.

The scale is stretched by π: the mark for an outside D stands π (D + t) from the zero edge, for
the middle of paper of thickness t runs half of t outside the wall. The strip is a broad head
with a narrow tail; the tail goes round and comes to lie beside the head, whose edge it is read
against. One unit of the drawing is a hundredth of an inch of paper.
"""

from __future__ import annotations

import math
from xml.etree.ElementTree import Element, SubElement, tostring

from fieldkit.engine.words import say
from fieldkit.flows.localize import localize
from fieldkit.tables.measuring import uncertainty
from fieldkit.tables.pipes import pipes

UNITS_PER_INCH = 100.0
MM_PER_INCH = 25.4

#: Of the sheet, so that it fits Letter and A4 alike with room for the printer's margins. [in]
WIDE_IN, HIGH_IN = 7.2, 3.9
#: Of the strip. [units]
_HEAD, _TAIL_HIGH, _HEAD_HIGH = 62.0, 50.0, 96.0

#: The rigid sizes marked by name.
_NAMED = (("1/2", "½"), ("3/4", "¾"), ("1", "1"), ("1-1/4", "1¼"), ("1-1/2", "1½"))


def paper_thickness_in() -> float:
    """Of office paper. [in]"""
    return uncertainty()["paper_thickness"].value


def along_strip_in(od_in: float) -> float:
    """How far from the zero edge the mark for an outside diameter stands.

    Parameters
    ----------
    od_in : float
        Outside diameter, at least 0. [in]

    Returns
    -------
    float
        Length along the strip: π (D + t). [in]

    Source
    ------
    statics

    Examples
    --------
    >>> round(along_strip_in(0.700), 3)
    2.212
    """
    return math.pi * (od_in + paper_thickness_in())


def ruler_sheet() -> str:
    """SVG of the sheet to print: two bars that prove the size, a strip in inches, one in mm."""
    svg = Element(
        "svg",
        {
            "xmlns": "http://www.w3.org/2000/svg",
            "width": f"{WIDE_IN}in",
            "height": f"{HIGH_IN}in",
            "viewBox": f"0 0 {WIDE_IN * UNITS_PER_INCH:g} {HIGH_IN * UNITS_PER_INCH:g}",
            "class": "paper__sheet",
            "aria-hidden": "true",
            "focusable": "false",
            "font-size": "15",
            "fill": "none",
            "stroke": "currentColor",
            "stroke-width": "1",
        },
    )
    _bar(svg, 30.0, 4 * UNITS_PER_INCH, "4 in", "bar-in")
    _bar(svg, 70.0, 100 / MM_PER_INCH * UNITS_PER_INCH, "100 mm", "bar-mm")
    _strip_in(svg, 116.0)
    _strip_mm(svg, 256.0)
    return tostring(svg, encoding="unicode")


def _bar(svg: Element, y: float, long: float, words: str, css: str) -> None:
    _line(svg, 4, y, 4 + long, y, css, 1.5)
    _line(svg, 4, y - 9, 4, y + 9, "end", 1.5)
    _line(svg, 4 + long, y - 9, 4 + long, y + 9, "end", 1.5)
    _say(svg, 4 + long / 2, y - 6, words)


def _strip_in(svg: Element, top: float) -> None:
    last = 200
    zero = _outline(svg, top, last / 100, say("inches"))
    for step in range(20, last + 1):
        place = zero + along_strip_in(step / 100) * UNITS_PER_INCH
        high = 18 if step % 10 == 0 else 13 if step % 5 == 0 else 8
        css = "tick-in tick-in--named" if step % 10 == 0 else "tick-in"
        _line(svg, place, top + _TAIL_HIGH, place, top + _TAIL_HIGH - high, css, 0.75)
        if step % 10 == 0:
            _say(svg, place, top + 30, f"{step / 100:.1f}")
    for nominal, words in _NAMED:
        place = zero + along_strip_in(_rigid_od_in(nominal)) * UNITS_PER_INCH
        _line(svg, place, top + _TAIL_HIGH - 19, place, top + _TAIL_HIGH, "pipe", 2)
        _line(svg, place, top + 14.5, place, top + 17.5, "pipe-name", 2)
        _say(svg, place, top + 13, say("{size} pipe", size=words))


def _strip_mm(svg: Element, top: float) -> None:
    last = 101
    zero = _outline(svg, top, last / 2 / MM_PER_INCH, say("mm"))
    for half in range(10, last + 1):
        place = zero + along_strip_in(half / 2 / MM_PER_INCH) * UNITS_PER_INCH
        high = 18 if half % 10 == 0 else 13 if half % 2 == 0 else 8
        css = "tick-mm tick-mm--named" if half % 10 == 0 else "tick-mm"
        _line(svg, place, top + _TAIL_HIGH, place, top + _TAIL_HIGH - high, css, 0.75)
        if half % 10 == 0:
            _say(svg, place, top + 28, f"{half // 2}")


def _outline(svg: Element, top: float, last_in: float, unit: str) -> float:
    """The strip's edge to cut along, and what its head says; where its zero edge stands."""
    left, zero = 2.0, 2.0 + _HEAD
    right = zero + along_strip_in(last_in) * UNITS_PER_INCH + 14
    corners = (
        (left, top), (right, top), (right, top + _TAIL_HIGH), (zero, top + _TAIL_HIGH),
        (zero, top + _HEAD_HIGH), (left, top + _HEAD_HIGH),
    )  # fmt: skip
    points = " ".join(f"{x:.3f},{y:.3f}" for x, y in corners)
    SubElement(svg, "polygon", {"points": points, "class": "cut"})
    _say(svg, left + _HEAD / 2, top + 32, unit)
    _say(svg, left + _HEAD / 2, top + 68, say("read"))
    _say(svg, left + _HEAD / 2, top + 85, say("here"))
    # The edge that the tail is read against.
    _line(svg, zero, top + _TAIL_HIGH, zero, top + _HEAD_HIGH, "zero", 2.5)
    return zero


def _rigid_od_in(nominal: str) -> float:
    return next(
        row.od_in
        for row in pipes().values()
        if (row.family, row.nominal, row.pipe_class) == ("ips-pvc", nominal, "Sch 40")
    )


def _line(svg: Element, x1: float, y1: float, x2: float, y2: float, *look: str | float) -> None:
    css, width = look
    places = {"x1": x1, "y1": y1, "x2": x2, "y2": y2}
    SubElement(
        svg,
        "line",
        {key: f"{value:.3f}" for key, value in places.items()}
        | {"class": str(css), "stroke-width": f"{width}"},
    )


def _say(svg: Element, x: float, y: float, words: str) -> None:
    place = {"x": f"{x:.3f}", "y": f"{y:.3f}", "text-anchor": "middle"}
    look = {"fill": "currentColor", "stroke": "none"}
    SubElement(svg, "text", place | look).text = localize(words)
