"""Reads a drawing back: its strokes by class, so that what is drawn can be measured."""

from __future__ import annotations

from xml.etree import ElementTree

SVG = "{http://www.w3.org/2000/svg}"


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

    @property
    def texts(self):
        """(x, y, anchor, words) of every text."""
        return [
            (float(one.get("x")), float(one.get("y")), one.get("text-anchor"), one.text)
            for one in self.root.iter(SVG + "text")
        ]
