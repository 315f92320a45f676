"""What every calculation hands back: a verdict, a headline, cautions and the working."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, fields, is_dataclass
from functools import cache
from typing import Any, Protocol

from fieldkit.engine.words import Capital, Figure, Noted, Quote, Span, Text, noted, retold
from fieldkit.tables.formulas import formulas


@dataclass(frozen=True, slots=True)
class Line:
    """One line of working: a figure, how it came about, and where that rests.

    ``inputs`` maps the symbols of ``formula`` to the figures put in, each with its unit, so
    that whoever reads it can work ``value`` out again; what stands after a semicolon is a remark.
    A line that is no formula says so in its first word: ``table:``, ``rule:``, ``assumed:``,
    ``given:``, ``by steps:`` or ``solved for``. ``tests/support/working_reader.py`` reads all.
    ``source`` is an id in ``tables/sources.csv``; ``status`` is one of ``ROW_STATUSES``.
    """

    name: str
    formula: str
    inputs: Mapping[str, object]
    value: float | str | None
    unit: str
    source: str
    status: str


class Sourced(Protocol):
    """A row of a table that a figure was read from."""

    @property
    def source(self) -> str:
        """Id in ``tables/sources.csv``."""

    @property
    def status(self) -> str:
        """One of ``ROW_STATUSES``."""


def worked(
    formula_id: str,
    value: float | str | None,
    inputs: Mapping[str, object] | None = None,
    /,
    *,
    rests: Sourced | None = None,
    **symbols: object,
) -> Line:
    """The line of working whose name, formula and unit are a row of ``formulas.csv``.

    Parameters
    ----------
    formula_id : str
        The row.
    value : float, str or None
        The figure, in the row's unit.
    inputs : Mapping, optional
        Figures put in whose symbols are no Python names.
    rests : Sourced, optional
        The row that the figure was read from, where the formula names no source of its own.
    **symbols : object
        The figures put in, each with its unit, by symbol.

    Raises
    ------
    ValueError
        Neither the formula nor the caller names a source, or both do.

    Examples
    --------
    >>> line = worked("critical_time", 1.0, L="500.0 ft", a="1000 ft/s")
    >>> line.formula, dict(line.inputs), line.unit, line.source
    ('2 L / a', {'L': '500.0 ft', 'a': '1000 ft/s'}, 's', 'joukowsky')
    """
    row = formulas()[formula_id]
    given = {**(inputs or {}), **symbols}
    if rests is not None and row.source is None:
        source, status = rests.source, rests.status
    elif rests is None and row.source is not None and row.status is not None:
        source, status = row.source, row.status
    else:
        raise ValueError(f"{formula_id}: one of formula and caller names the source")
    return Line(row.name, row.formula, given, value, row.unit, source, status)


def precise(value: float, unit: str = "") -> str:
    """An input of a line of working: six digits, so that the line can be worked out again.

    Examples
    --------
    >>> precise(1.049, "in"), precise(100.0), precise(30061.12), precise(5.0793e-05, "1/°F")
    ('1.049 in', '100.0', '30,061.1', '5.0793e-05 1/°F')
    """
    digits = f"{value:.6g}"
    if value == 0:
        digits = "0"
    elif "e" in digits:
        digits = max(digits, f"{value:.3e}", key=len)
    else:
        # Four digits at least, even if the last are zeros.
        places = max(len(digits.partition(".")[2]), 3 - math.floor(math.log10(abs(value))))
        digits = f"{value:,.{places}f}" if abs(value) >= 10_000 else f"{value:.{places}f}"
    return f"{digits} {unit}".rstrip()


def precise_row(values: Iterable[float], unit: str = "") -> str:
    """Several inputs of one name, which the formula takes the sum, mean or largest of.

    Examples
    --------
    >>> precise_row((0.701, 0.703), "in")
    '0.7010, 0.7030 in'
    """
    return f"{', '.join(precise(one) for one in values)} {unit}".rstrip()


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
