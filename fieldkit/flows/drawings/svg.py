"""A sheet to draw on: a few strokes of our own, written out as one ``svg`` element.

One unit is about one pixel on a phone, so type of 15 units stays readable. A strict page allows
no style attribute and no script: colours are ``currentColor`` or a class of the style sheet.
Every stroke may carry a class; the tests find what they measure by it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from xml.etree.ElementTree import Element, SubElement, tostring

from fieldkit.engine.words import Figure, Span, Text, join
from fieldkit.flows.localize import localize

WIDTH = 360.0
TYPE = 15.0
LINE = 18.0  # from one line of words to the next
_DROP = 5.0  # what hangs below the foot of a line

#: Line weights: what was measured or made, what it is compared with, and helping lines.
BOLD, THIN, HELP = 3.0, 2.0, 1.25

#: Room for a letter of the page's face: 0.6 of its size is more than text takes. [units]
_LETTER = 0.6 * TYPE

#: What a drawing may say: a text, a figure, a length of time.
Said = str | Figure | Span


class Sheet:
    """An empty sheet. It is hidden from screen readers: the page says the same in words beside it.

    Examples
    --------
    >>> sheet = Sheet(40)
    >>> sheet.line(0, 20, 100, 20)
    >>> print(sheet.markup()[-75:])
    <line x1="0" y1="20" x2="100" y2="20" class="ink" stroke-width="2" /></svg>
    """

    def __init__(self, height: float, css: str = "draw") -> None:
        self.height = height
        self._svg = Element(
            "svg",
            {
                "xmlns": "http://www.w3.org/2000/svg",
                "class": css,
                "aria-hidden": "true",
                "focusable": "false",
                "font-size": f"{TYPE:.0f}",
                "stroke-linejoin": "round",
                "stroke-linecap": "round",
                "fill": "none",
                "stroke": "currentColor",
            },
        )

    def markup(self) -> str:
        """The sheet as SVG text."""
        self._svg.set("viewBox", f"0 0 {WIDTH:.0f} {self.height:.0f}")
        return tostring(self._svg, encoding="unicode")

    def line(
        self, x1: float, y1: float, x2: float, y2: float, css: str = "ink", *, width: float = THIN
    ) -> None:
        """A straight line."""
        self._put("line", css, width, x1=x1, y1=y1, x2=x2, y2=y2)

    def circle(
        self, x: float, y: float, radius: float, css: str = "ink", *, width: float = THIN
    ) -> None:
        """A circle."""
        self._put("circle", css, width, cx=x, cy=y, r=radius)

    def box(
        self, x: float, y: float, wide: float, high: float, css: str = "ink", *, width: float = THIN
    ) -> None:
        """An upright rectangle."""
        self._put("rect", css, width, x=x, y=y, width_=wide, height=high)

    def shape(
        self, points: Sequence[tuple[float, float]], css: str = "ink", *, width: float = THIN
    ) -> None:
        """A closed shape."""
        self._put("polygon", css, width, points=_points(points))

    def trace(
        self, points: Sequence[tuple[float, float]], css: str = "ink", *, width: float = THIN
    ) -> None:
        """A line through points, left open."""
        self._put("polyline", css, width, points=_points(points))

    def path(self, strokes: str, css: str = "ink", *, width: float = THIN) -> None:
        """Any path, for arcs."""
        self._put("path", css, width, d=strokes)

    def hatch(self, x: float, y: float, wide: float, high: float, *, gap: float = 5.0) -> None:
        """Section lines at 45 degrees over a rectangle, ``gap`` apart along its edge."""
        strokes = []
        start = x - high
        while (start := start + gap) < x + wide:
            low, top = max(start, x), min(start + high, x + wide)
            strokes.append(
                f"M{_number(low)} {_number(y + high - (low - start))}"
                f"L{_number(top)} {_number(y + high - (top - start))}"
            )
        if strokes:
            self.path("".join(strokes), "hatch", width=0.8)

    def say(
        self,
        x: float,
        y: float,
        words: Said,
        anchor: str = "start",
        *,
        bold: bool = False,
        room: float | None = None,
        up: bool = False,
    ) -> None:
        """Words, the foot of their first line at ``y``; in more lines where the room is short.

        Parameters
        ----------
        x, y : float
            Where they stand, by ``anchor``. [units]
        words : Said
            What is said; it is told as the reader wants it.
        anchor : str
            ``start``, ``middle`` or ``end``.
        bold : bool
            Whether they stand out.
        room : float or None
            How wide they may be; None for as far as the edge of the sheet. [units]
        up : bool
            Whether more lines go upwards, so that the last one stands at ``y``.
        """
        if room is None:
            room = {"start": WIDTH - x, "end": x, "middle": 2 * min(x, WIDTH - x)}[anchor]
        lines = lines_of(words, room)
        foot = y - LINE * (len(lines) - 1) if up else y
        for line in lines:
            self._put_words(x, foot, line, anchor, bold=bold)
            foot += LINE
        self.height = max(self.height, math.ceil(foot - LINE + _DROP))

    def _put_words(self, x: float, y: float, line: str, anchor: str, *, bold: bool) -> None:
        place = {"x": _number(x), "y": _number(y), "text-anchor": anchor}
        look = {"fill": "currentColor", "stroke": "none"}
        weight = {"font-weight": "bold"} if bold else {}
        SubElement(self._svg, "text", place | weight | look).text = line

    def arrow(self, x1: float, y1: float, x2: float, y2: float, css: str = "ink") -> None:
        """A line with a head at its end, level or upright."""
        self.line(x1, y1, x2, y2, css)
        self._head(x1, y1, x2, y2, css)

    def span(self, x1: float, x2: float, y: float, words: Said, *, below: bool = True) -> None:
        """A dimension line from ``x1`` to ``x2`` with what it measures under or over it."""
        self.line(x1, y, x2, y, "help", width=HELP)
        for end, inward in ((x1, 1), (x2, -1)):
            self.trace(
                [(end + inward * 7, y - 4), (end, y), (end + inward * 7, y + 4)], "help", width=HELP
            )
        self.say((x1 + x2) / 2, y + 19 if below else y - 8, words, "middle", up=not below)

    def levels(
        self, ticks: Iterable[tuple[float, Figure]], left: float, right: float, away: float = 8.0
    ) -> None:
        """Helping lines across a plot, each with its figure at the left."""
        for place, figure in ticks:
            self.line(left, place, right, place, "help", width=HELP)
            self.say(left - away, place + 5, figure, "end")

    def _head(self, x1: float, y1: float, x2: float, y2: float, css: str) -> None:
        back, side = (9, 5)
        if abs(x2 - x1) >= abs(y2 - y1):
            sign = 1 if x2 > x1 else -1
            ends = [(x2 - sign * back, y2 - side), (x2, y2), (x2 - sign * back, y2 + side)]
        else:
            sign = 1 if y2 > y1 else -1
            ends = [(x2 - side, y2 - sign * back), (x2, y2), (x2 + side, y2 - sign * back)]
        self.trace(ends, css)

    def _put(self, tag: str, css: str, width: float, **places: float | str) -> None:
        shown = {
            key.rstrip("_"): value if isinstance(value, str) else _number(value)
            for key, value in places.items()
        }
        SubElement(self._svg, tag, shown | {"class": css, "stroke-width": _number(width)})


def in_a_row(*texts: str) -> Text:
    """Sentences one after another as one text, each of which can still be told anew.

    Examples
    --------
    >>> from fieldkit.engine.words import say
    >>> in_a_row(say("Push."), say("Turn {n} times.", n=2))
    'Push. Turn 2 times.'
    """
    return join(texts, " ")


def lines_of(words: Said, room: float) -> list[str]:
    """Words, as the reader is told them, in lines that fit the room. [units]

    Examples
    --------
    >>> lines_of("1/2 in. drip tubing, 0.700 × 0.600", 190)
    ['1/2 in. drip tubing,', '0.700 × 0.600']
    """
    most = max(1, int(room / _LETTER))
    lines: list[str] = []
    for word in localize(words).split():
        if lines and len(lines[-1]) + 1 + len(word) <= most:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines


def room_of(words: Said) -> float:
    """How much room the words take, as the reader is told them, at most. [units]

    Examples
    --------
    >>> room_of("0.700 in")
    72.0
    """
    return _LETTER * len(localize(words))


def _points(points: Sequence[tuple[float, float]]) -> str:
    return " ".join(f"{_number(x)},{_number(y)}" for x, y in points)


def _number(value: float) -> str:
    """Thousandths of a unit are far below a pixel."""
    return f"{value:.3f}".rstrip("0").rstrip(".")
