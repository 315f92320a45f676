"""What every calculation hands back: a verdict, a headline, cautions and the working."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, fields, is_dataclass
from functools import cache
from typing import Any

from fieldkit.engine.words import Capital, Figure, Noted, Quote, Span, Text, noted, retold

#: How sure we may be of a number, best first. A result is as good as its weakest line.
STATUSES = (
    "checked",
    "computed",
    "secondary",
    "from memory",
    "common practice, no source",
)


@dataclass(frozen=True, slots=True)
class Line:
    """One line of working: a figure, how it came about, and where that rests.

    ``inputs`` maps the symbols of ``formula`` to the figures put in, each with its unit.
    ``source`` is an id in ``tables/sources.csv``; ``status`` is one of ``STATUSES``.
    """

    name: str
    formula: str
    inputs: Mapping[str, object]
    value: float | str | None
    unit: str
    source: str
    status: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Answer:
    """The part that all answers share; each calculation adds its own fields.

    ``verdict`` is a short word for programs; ``headline`` is one plain sentence for people.
    """

    verdict: str
    headline: Text
    cautions: tuple[Text, ...] = ()
    working: tuple[Line, ...] = field(default=())

    def as_json(self) -> dict[str, Any]:
        """The answer as plain JSON values, the same for page, API, command line and log.

        ``said`` maps each sentence made with figures to its template and parts, so that what
        the log keeps can be told in another language or in other units years later.
        """
        shaped = to_json(self)
        assert isinstance(shaped, dict)  # noqa: S101  -- an Answer is a dataclass
        shaped["said"] = sentences(self)
        return shaped


def to_json(value: object) -> Any:
    """Turn dataclasses, tuples and figures into JSON values; floats to 9 digits.

    Nine significant digits are far past any caliper, and hide the last bit in which two
    maths libraries may differ, so a phone and a server print the same answer.

    Examples
    --------
    >>> to_json((1 / 3, Figure(0.7, "in", 3)))
    [0.333333333, '0.700 in']
    """
    if isinstance(value, bool) or value is None:
        return value
    if isinstance(value, float):
        return float(f"{value:.9g}")
    if isinstance(value, int):
        return value
    if isinstance(value, Figure | Span | Text | Quote | Capital):
        return str(value)
    if isinstance(value, str):
        return value
    if isinstance(value, Mapping):
        return {str(key): to_json(item) for key, item in value.items()}
    if isinstance(value, tuple | list):
        return [to_json(item) for item in value]
    if is_dataclass(value) and not isinstance(value, type):
        return {part.name: to_json(getattr(value, part.name)) for part in fields(value)}
    raise TypeError(f"no JSON shape for {type(value).__name__}")


def sentences(value: object) -> dict[str, Noted]:
    """Every sentence inside ``value`` that was made with figures, with template and parts."""
    found: dict[str, Noted] = {}
    _gather(value, found)
    return found


def _gather(value: object, found: dict[str, Noted]) -> None:
    if isinstance(value, Text):
        if value.parts:
            found[str(value)] = noted(value)
    elif isinstance(value, str):
        return
    elif isinstance(value, Mapping):
        for item in value.values():
            _gather(item, found)
    elif isinstance(value, tuple | list):
        for item in value:
            _gather(item, found)
    elif is_dataclass(value) and not isinstance(value, type):
        for part in fields(value):
            _gather(getattr(value, part.name), found)


#: What a person wrote in their own words: never looked up in a catalogue.
OWN_WORDS = frozenset({"override_reason"})


def tellable(answer: Mapping[str, Any]) -> dict[str, Any]:
    """An answer read back from JSON, its strings texts again that can be told anew.

    One that an older version wrote has no ``said``: its sentences are looked up whole.

    Examples
    --------
    >>> said = {"2 in": {"template": "{a} in", "parts": {"a": 2}}}
    >>> tellable({"headline": "2 in", "verdict": "ok", "said": said})["headline"].template
    '{a} in'
    """
    said = answer.get("said")
    kept = said if isinstance(said, Mapping) else {}

    @cache  # a sentence that stands there often is told once
    def told(sentence: str) -> Text:
        return retold(sentence, kept.get(sentence))

    return {
        key: item if key == "said" else _retold(key, item, told) for key, item in answer.items()
    }


def _retold(key: str, value: Any, told: Callable[[str], Text]) -> Any:
    if isinstance(value, str):
        return value if key in OWN_WORDS else told(value)
    if isinstance(value, Mapping):
        return {name: _retold(name, item, told) for name, item in value.items()}
    if isinstance(value, list):
        return [_retold(key, item, told) for item in value]
    return value
