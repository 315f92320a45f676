"""Sentences that stay translatable: a template and the figures that fill it.

The engine writes plain English. ``say`` keeps the template beside the finished sentence, so
that a later layer can look the template up in a catalogue and fill it again, with the figures
in the reader's own units.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Self


class Text(str):
    """A finished sentence that remembers the template and the parts it was made from."""

    __slots__ = ("parts", "template")
    template: str
    parts: dict[str, object]

    def __new__(cls, template: str, parts: dict[str, object]) -> Self:
        text = super().__new__(cls, template.format(**parts) if parts else template)
        text.template = template
        text.parts = parts
        return text


def say(template: str, /, **parts: object) -> Text:
    """Fill ``template`` (``str.format`` fields) and remember it.

    Examples
    --------
    >>> say("{od} is too large.", od=Figure(0.7, "in", 3))
    '0.700 in is too large.'
    """
    return Text(template, parts)


@dataclass(frozen=True, slots=True)
class Figure:
    """A number as it stands in a sentence: value, unit and decimal places.

    Examples
    --------
    >>> str(Figure(0.7, "in", 3)), str(Figure(68.0, "°F"))
    ('0.700 in', '68 °F')
    """

    value: float
    unit: str = ""
    places: int = 0

    def __str__(self) -> str:
        """The number with its unit."""
        # A comma from 10,000 up only: 1,234 could be read as 1.234, and is refused when typed.
        grouped = "," if abs(self.value) >= 10_000 else ""
        digits = f"{self.value:{grouped}.{self.places}f}"
        if self.places == 0 and digits == "-0":
            digits = "0"
        return f"{digits} {self.unit}" if self.unit else digits


@dataclass(frozen=True, slots=True)
class Span:
    """A length of time as a person says it.

    Examples
    --------
    >>> str(Span(90)), str(Span(15)), str(Span(2880)), str(Span(0.5))
    ('1 h 30 min', '15 min', '2 days', '30 s')
    """

    minutes: float

    def __str__(self) -> str:
        """Seconds, minutes, hours or days, whichever reads best."""
        if 0 < self.minutes < 1:
            return f"{round(self.minutes * 60)} s"
        whole = round(self.minutes)
        if whole < 60:
            return f"{whole} min"
        if whole >= 2 * 1440 and whole % 60 == 0:
            days, hours = divmod(whole // 60, 24)
            return f"{days} days {hours} h" if hours else f"{days} days"
        hours, minutes = divmod(whole, 60)
        return f"{hours} h {minutes} min" if minutes else f"{hours} h"
