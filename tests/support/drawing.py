"""Reads a drawing back: its strokes by class, so that what is drawn can be measured."""

from __future__ import annotations

import re
from gettext import GNUTranslations
from xml.etree import ElementTree

from fieldkit.engine.words import Figure, Text
from fieldkit.flows.measures import metric_figure
from support.catalogue import TRANSLATIONS

SVG = "{http://www.w3.org/2000/svg}"


#: Widest that a letter of the page's face is taken to be, on average: 0.6 of the type's size.
LETTER = 0.6 * 15


def longer(value):
    """Tells a text a quarter longer, as Spanish is: each word of letters by a quarter of itself."""
    if not isinstance(value, Text):
        return str(value)
    told = value.template.format(**{key: longer(part) for key, part in value.parts.items()})
    fixed = [longer(part) for part in value.parts.values()]
    held = {word for part in fixed for word in part.split()}
    return " ".join(
        word if word in held or not word.isalpha() else word + word[: -(-len(word) // 4)]
        for word in told.split()
    )


class Metric:
    """Tells everything in millimetres, bar and °C."""

    def __call__(self, value):
        """``value`` in plain English."""
        if isinstance(value, Text) and value.parts:
            return value.template.format(**{key: self(part) for key, part in value.parts.items()})
        return str(self.as_measured(value) if isinstance(value, Figure) else value)

    def as_measured(self, figure):
        """``figure`` in metric units."""
        return metric_figure(figure)


class Translated(Metric):
    """Tells everything in a language of the catalogues, and in metric units."""

    def __init__(self, language):
        file = TRANSLATIONS / language / "LC_MESSAGES" / "messages.mo"
        with file.open("rb") as compiled:
            self._look_up = GNUTranslations(compiled).gettext

    def __call__(self, value):
        """``value`` in that language."""
        if type(value) is str:
            return self._look_up(value) if value else value
        if not isinstance(value, Text):
            return str(self.as_measured(value) if isinstance(value, Figure) else value)
        return self._look_up(value.template).format(
            **{key: self(part) for key, part in value.parts.items()}
        )


class Seen:
    """The strokes of a drawing."""

    def __init__(self, drawing) -> None:
        self.drawing = drawing
        self.root = ElementTree.fromstring(drawing.svg)  # noqa: S314  -- our own markup
        self.width, self.height = (float(one) for one in self.root.get("viewBox").split()[2:])

    def all(self, css):
        """Every stroke of that class, in the order drawn."""
        return [one for one in self.root.iter() if css in (one.get("class") or "").split()]

    def one(self, css):
        """The only stroke of that class."""
        (found,) = self.all(css)
        return found

    def number(self, css, key):
        """One attribute of the only stroke of that class."""
        return float(self.one(css).get(key))

    def corners(self, css):
        """The corners of the only shape of that class."""
        pairs = self.one(css).get("points").split()
        return [tuple(float(part) for part in pair.split(",")) for pair in pairs]

    def read_off(self, place, *, upright):
        """What the numbers along a scale say at a place: left of a plot, or under it."""
        at, numbers = (1, "end") if upright else (0, "middle")
        ticks = [
            (float(text[at]) - (5 if upright else 0), float(text[3]))
            for text in self.texts
            if text[2] == numbers and re.fullmatch(r"-?[\d.]+", text[3])
        ]
        (low, first), (high, last) = ticks[0], ticks[1]
        return first + (place - low) / (high - low) * (last - first)

    def boxes(self):
        """(left, right, top, foot, words) of every text, its letters taken to be wide."""
        found = []
        for x, y, anchor, words in self.texts:
            long = LETTER * len(words)
            left = x - {"start": 0, "middle": long / 2, "end": long}[anchor]
            found.append((left, left + long, y - 11, y + 3, words))
        return found

    @property
    def texts(self):
        """(x, y, anchor, words) of every text."""
        return [
            (float(one.get("x")), float(one.get("y")), one.get("text-anchor"), one.text)
            for one in self.root.iter(SVG + "text")
        ]
