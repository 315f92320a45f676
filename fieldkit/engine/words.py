"""Sentences that stay translatable: a template and the figures that fill it.

The engine writes plain English. ``say`` keeps the template beside the finished sentence, so
that a later layer can look the template up in a catalogue and fill it again, with the figures
in the reader's own units. ``noted`` and ``recalled`` carry that through JSON, so a sentence
that the log has kept for years can still be told in another language.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Self


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


class Quote(str):
    """Words of a person's own inside a sentence: shown as they are, never translated."""

    __slots__ = ()


class Capital(str):
    """A name from a table at the head of a sentence: looked up as it is, then capitalised.

    Examples
    --------
    >>> say("{what}: none", what=Capital("tube OD less ring size"))
    'Tube OD less ring size: none'
    """

    __slots__ = ("plain",)
    plain: str

    def __new__(cls, plain: str) -> Self:
        made = super().__new__(cls, plain[:1].upper() + plain[1:])
        made.plain = plain
        return made


def say(template: str, /, **parts: object) -> Text:
    """Fill ``template`` (``str.format`` fields) and remember it.

    Examples
    --------
    >>> say("{od} is too large.", od=Figure(0.7, "in", 3))
    '0.700 in is too large.'
    """
    return Text(template, parts)


def those(*noted: tuple[object, Text]) -> list[Text]:
    """The texts whose condition holds, in their order.

    Examples
    --------
    >>> those((1 > 2, say("Never.")), ("a word", say("It is there.")))
    ['It is there.']
    """
    return [text for holds, text in noted if holds]


def join(texts: Iterable[object], between: str = ", ") -> Text:
    """Several texts or figures in a row, each of which is told by itself.

    Examples
    --------
    >>> join(["Sch 40", "SDR 21"], ", ")
    'Sch 40, SDR 21'
    """
    parts: dict[str, object] = {f"text{n}": one for n, one in enumerate(texts, start=1)}
    return Text(between.join(f"{{{name}}}" for name in parts), parts)


@dataclass(frozen=True, slots=True)
class Figure:
    """A number as it stands in a sentence: value, unit and decimal places.

    The unit of a ``bare`` one is not written: it stands behind the next figure, as in a range,
    or at the head of a column.

    Examples
    --------
    >>> str(Figure(0.7, "in", 3)), str(Figure(68.0, "°F")), str(Figure(0.7, "in", 3, bare=True))
    ('0.700 in', '68 °F', '0.700')
    >>> str(Figure(-0.04, "psi", 1)), str(Figure(-0.06, "psi", 1))
    ('0.0 psi', '-0.1 psi')
    """

    value: float
    unit: str = ""
    places: int = 0
    bare: bool = False

    @property
    def digits(self) -> str:
        """The number without its unit."""
        # A comma from 10,000 up only: 1,234 could be read as 1.234, and is refused when typed.
        grouped = "," if abs(self.value) >= 10_000 else ""
        digits = f"{self.value:{grouped}.{self.places}f}"
        return digits if digits.strip("-0.") else digits.removeprefix("-")

    def __str__(self) -> str:
        """The number with its unit, where that is written."""
        return f"{self.digits} {self.unit}" if self.unit and not self.bare else self.digits


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
        return str(self.said)

    @property
    def said(self) -> Text:
        """The same as a text, so that its words can be translated."""
        if 0 < self.minutes < 1:
            return say("{s} s", s=round(self.minutes * 60))
        whole = round(self.minutes)
        if whole < 60:
            return say("{min} min", min=whole)
        if whole >= 2 * 1440 and whole % 60 == 0:
            days, hours = divmod(whole // 60, 24)
            if hours:
                return say("{d} days {h} h", d=days, h=hours)
            return say("{d} days", d=days)
        hours, minutes = divmod(whole, 60)
        return say("{h} h {min} min", h=hours, min=minutes) if minutes else say("{h} h", h=hours)


# ── Through JSON and back ────────────────────────────────────────────────────────────────────

#: A text as JSON: its template and its parts.
Noted = dict[str, Any]

#: All that a template of ours holds of braces: names alone. A kept one may come from anywhere,
#: and ``str.format`` would also walk into attributes, or pad to any width.
_BRACES = re.compile(r"\{\{|\}\}|\{[A-Za-z_]\w*\}", re.ASCII)
#: No figure of ours has more decimal places.
_MOST_PLACES = 12


def noted(text: Text) -> Noted:
    """The template and the parts of a text as JSON values.

    Examples
    --------
    >>> noted(say("{od} is too large.", od=Figure(0.7, "in", 3)))
    {'template': '{od} is too large.', 'parts': {'od': {'value': 0.7, 'unit': 'in', 'places': 3}}}
    """
    return {
        "template": text.template,
        "parts": {name: _part_noted(part) for name, part in text.parts.items()},
    }


def _part_noted(part: object) -> Any:
    if isinstance(part, Text):
        return noted(part)
    if isinstance(part, Figure):
        kept = {"value": float(f"{part.value:.9g}"), "unit": part.unit, "places": part.places}
        return kept | {"bare": True} if part.bare else kept
    if isinstance(part, Span):
        return {"minutes": float(f"{part.minutes:.9g}")}
    if isinstance(part, Quote):
        return {"quote": str(part)}
    if isinstance(part, Capital):
        return {"capital": part.plain}
    if part is None or isinstance(part, bool | int | float | str):
        return part
    return str(part)


def recalled(kept: Mapping[str, Any], longest: int = 20_000, deepest: int = 8) -> Text:
    """The text that ``noted`` took down, if it is no longer than ``longest`` characters.

    Texts may stand in texts, and the same part twice in a template, so what is short when kept
    could be gigabytes when told; it is measured before it is made.

    Raises
    ------
    LookupError, TypeError, ValueError
        It is not what ``noted`` wrote.

    Examples
    --------
    >>> recalled(noted(say("{od} is too large.", od=Figure(0.7, "in", 3))))
    '0.700 in is too large.'
    """
    template = str(kept["template"])
    if "{" in (bare := _BRACES.sub("", template)) or "}" in bare:
        raise ValueError("a template holds names in braces and nothing else")
    if deepest == 0:
        raise ValueError("no text of ours stands in so many others")
    parts = {
        str(name): _part_recalled(part, longest, deepest - 1)
        for name, part in kept["parts"].items()
    }
    length = len(template) + sum(
        template.count(f"{{{name}}}") * len(str(part)) for name, part in parts.items()
    )
    if length > longest + 40 * len(parts):  # the names in braces are counted, too
        raise ValueError("it is longer than it should be")
    return Text(template, parts)


def retold(sentence: str, kept: Mapping[str, Any] | None) -> Text:
    """A kept sentence as a text: from its template and parts where those were kept with it.

    A template that fills to other words than the sentence's is left alone: what is shown is
    what the log holds.

    Examples
    --------
    >>> retold("Take it apart.", None).template
    'Take it apart.'
    """
    if kept is None:
        return Text(sentence, {})
    try:
        found = recalled(kept, 2 * len(sentence) + 200)
    except (LookupError, TypeError, ValueError, AttributeError, ArithmeticError, RecursionError):
        return Text(sentence, {})
    return found if found == sentence else Text(sentence, {})


def _part_recalled(part: Any, longest: int, deepest: int) -> object:
    if not isinstance(part, Mapping):
        return part
    if "template" in part:
        return recalled(part, longest, deepest)
    if "minutes" in part:
        return Span(float(part["minutes"]))
    if "quote" in part:
        return Quote(part["quote"])
    if "capital" in part:
        return Capital(part["capital"])
    places = int(part["places"])
    if not 0 <= places <= _MOST_PLACES:
        raise ValueError("a figure has a few decimal places")
    return Figure(float(part["value"]), str(part["unit"]), places, part.get("bare") is True)
