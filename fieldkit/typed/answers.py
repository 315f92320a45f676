"""Strict reading of what people type: one value, or one plain sentence.

A closed grammar reads the number (``flows.amounts``); pint only converts a number and a unit we
know (``flows.units``). Text that could be read two ways is asked again, never guessed. All of
it ends in a value or in a ``Problem``, whatever is typed.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Callable, Sequence
from fractions import Fraction
from typing import NoReturn

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import Figure, say
from fieldkit.typed.amounts import Asked, json_number, plain_text, read_amounts
from fieldkit.typed.given import REORDERING, as_text, kept, never_text, shown
from fieldkit.typed.units import EXAMPLES, Unit, convert, example_of, unit_of

__all__ = [
    "EXAMPLES",
    "example_of",
    "is_bare_number",
    "read_choice",
    "read_flag",
    "read_nominal",
    "read_pipe_class",
    "read_quantity",
    "read_text",
    "read_whole",
]

_ABSOLUTE_ZERO = {"°F": -459.67, "°C": -273.15, "K": 0.0}


#: No figure of this trade, in any of our units, lies beyond these: 1e9 psi is forty times the
#: stiffness of steel, 1e-9 in a tenth of an atom.
_LARGEST = 1e9
_SMALLEST = 1e-9


def read_quantity(
    given: object,
    unit: str,
    *,
    field: str,
    at_least: float | None = None,
    at_most: float | None = None,
    told_in: str = "",
) -> float:
    """A quantity in ``unit`` from text such as ``11/16 in``, ``17.8 mm``, or a bare number.

    Bounds are told in ``told_in``, else in ``unit``.

    Raises
    ------
    Problem
        It cannot be read, could be read two ways, or is of another kind than ``unit``.
    OutOfRange
        It lies outside the bounds.

    Examples
    --------
    >>> read_quantity('1-1/16"', "in", field="od"), read_quantity("20 °C", "°F", field="t")
    (1.0625, 68.0)
    >>> read_quantity("17,8 mm", "in", field="od")
    Traceback (most recent call last):
        ...
    fieldkit.engine.problems.Problem: “17,8 mm” can be read as 17.8 or as 178. Use a point \
and no comma: 17.8 mm.
    """
    asked = Asked(given, field, _unit(unit))
    amounts = read_amounts(asked, given) if isinstance(given, str) else [(json_number(asked), None)]
    try:
        value = sum(convert(float(n), found or asked.unit, asked.unit) for n, found in amounts)
    except OverflowError:
        value = math.inf
    _check_bounds(value, asked, at_least, at_most, _unit(told_in) if told_in else asked.unit)
    return value


def _unit(name: str) -> Unit:
    unit = unit_of(name)
    if unit is None:
        raise KeyError(f"flows.units knows no unit {name!r}")
    return unit


def _check_bounds(
    value: float, asked: Asked, at_least: float | None, at_most: float | None, told_in: Unit
) -> None:
    if not abs(value) <= _LARGEST:  # not a number and infinity, too
        raise asked.out_of_range(
            say("“{given}” is larger than any real measurement."),
            say("Check the number and type it again."),
        )
    if 0 < abs(value) < _SMALLEST:
        raise asked.out_of_range(
            say("“{given}” is smaller than any real measurement."),
            say("Check the number and type it again."),
        )
    if value < _ABSOLUTE_ZERO.get(asked.unit.name, -float("inf")):
        raise asked.out_of_range(
            say("“{given}” is colder than anything can be."),
            say("Give a temperature, such as {example}."),
        )
    if at_least is not None and value < at_least:
        raise asked.out_of_range(
            say("“{given}” is less than {limit}."),
            say("Give {limit} or more."),
            limit=_limit(at_least, asked.unit, told_in, math.ceil),
        )
    if at_most is not None and value > at_most:
        raise asked.out_of_range(
            say("“{given}” is more than {limit}."),
            say("Give {limit} or less."),
            limit=_limit(at_most, asked.unit, told_in, math.floor),
        )


def _limit(value: float, asked: Unit, told_in: Unit, inward: Callable[[float], int]) -> Figure:
    """A bound as a figure; in another unit to four digits, and such as would be taken."""
    if told_in != asked:
        value = convert(value, asked, told_in)
        scale = 10.0 ** (3 - math.floor(math.log10(abs(value)))) if value else 1.0
        value = inward(round(value * scale, 6)) / scale
    return Figure(value, told_in.name, len(f"{value:.10g}".partition(".")[2]))


def is_bare_number(given: str, unit: str) -> bool:
    """Whether ``given`` is one number without a unit, where ``unit`` is asked for.

    Examples
    --------
    >>> is_bare_number("17.8", "in"), is_bare_number("17.8 mm", "in"), is_bare_number("?", "in")
    (True, False, False)
    """
    try:
        amounts = read_amounts(Asked(given, "", _unit(unit)), given)
    except Problem:
        return False
    return len(amounts) == 1 and amounts[0][1] is None


def read_choice(given: object, options: Sequence[str], *, field: str) -> str:
    """One of ``options``, in any letter case; spaces, ``-`` and ``_`` are the same.

    Examples
    --------
    >>> read_choice("Hazen-Williams", ["hazen_williams", "darcy"], field="method")
    'hazen_williams'
    """
    if isinstance(given, str) or (isinstance(given, int) and not isinstance(given, bool)):
        by_key = {_choice_key(option): option for option in options}
        found = by_key.get(_choice_key(as_text(given)))
        if found is not None:
            return found
    raise Problem(
        field,
        kept(given),
        say("“{given}” is not one of the choices here.", given=shown(given)),
        say("Choose one of: {options}.", options=", ".join(options)),
    )


def _choice_key(text: str) -> str:
    return re.sub(r"[\s_-]+", "_", text[:200].strip().casefold())


_FLAGS = {
    **dict.fromkeys(("yes", "y", "true", "t", "on", "1"), True),
    **dict.fromkeys(("no", "n", "false", "f", "off", "0"), False),
}


def read_flag(given: object, *, field: str) -> bool:
    """True or false; also yes and no.

    Examples
    --------
    >>> read_flag("Yes", field="buried"), read_flag(False, field="buried")
    (True, False)
    """
    if isinstance(given, bool):
        return given
    if isinstance(given, str | int | float):
        found = _FLAGS.get(as_text(given)[:20].strip().casefold())
        if found is not None:
            return found
    raise Problem(
        field,
        kept(given),
        say("“{given}” is neither yes nor no.", given=shown(given)),
        say("Answer yes or no."),
    )


def read_whole(given: object, *, field: str, at_least: int, at_most: int) -> int:
    """A whole number.

    Examples
    --------
    >>> read_whole("4", field="count", at_least=0, at_most=100)
    4
    """
    value = read_quantity(given, "", field=field, at_least=at_least, at_most=at_most)
    if not value.is_integer():
        raise Problem(
            field,
            kept(given),
            say("“{given}” is not a whole number.", given=shown(given)),
            say("Give a count, such as {example}.", example=str(max(at_least, min(4, at_most)))),
        )
    return int(value)


def read_text(given: object, *, field: str, limit: int) -> str:
    """Free text in any script, trimmed, its line ends made ``\\n``.

    Characters that only change the order in which text shows are taken out: with them a signed
    note could show other words than the log holds. Marks that scripts need are kept.

    Examples
    --------
    >>> read_text("  Valve box 3 ", field="place", limit=40)
    'Valve box 3'
    """
    if isinstance(given, bool) or not isinstance(given, str | int | float):
        raise Problem(field, None, say("This is not text."), say("Send a few words as text."))
    text = as_text(given)
    if len(text) > 2 * limit + 100:  # no need to look through all of it
        _too_long(text, field, limit)
    text = text.replace("\r\n", "\n").replace("\r", "\n").replace("\t", " ")
    text = text.replace("\u2028", "\n").replace("\u2029", "\n")
    text = "".join(one for one in text if one not in REORDERING)
    if any(never_text(one) for one in text):
        raise Problem(
            field,
            kept(text),
            say("“{given}” holds a character that cannot be shown.", given=shown(text)),
            say("Type it again by hand."),
        )
    text = unicodedata.normalize("NFC", text).strip()
    if len(text) > limit:
        _too_long(text, field, limit)
    return text


_NOMINAL_INCHES = {
    Fraction(size): name
    for size, name in (
        ("1/8", "1/8"),
        ("1/4", "1/4"),
        ("3/8", "3/8"),
        ("1/2", "1/2"),
        ("5/8", "5/8"),
        ("3/4", "3/4"),
        ("1", "1"),
        ("5/4", "1-1/4"),
        ("3/2", "1-1/2"),
        ("2", "2"),
        ("5/2", "2-1/2"),
        ("3", "3"),
        ("7/2", "3-1/2"),
        ("4", "4"),
        ("5", "5"),
        ("6", "6"),
        ("8", "8"),
    )
}


def read_nominal(given: object, *, field: str) -> str:
    """A trade size as the tables write it: inches as a fraction, or whole millimetres.

    Examples
    --------
    >>> [read_nominal(x, field="n") for x in ("½", 0.5, '1 1/4"', "1.5 in", "25mm")]
    ['1/2', '1/2', '1-1/4', '1-1/2', '25 mm']
    """
    asked = Asked(given, field, _unit("in"))
    amounts = read_amounts(asked, given) if isinstance(given, str) else [(json_number(asked), None)]
    number, unit = amounts[0] if len(amounts) == 1 else (Fraction(-1), None)
    if unit is not None and unit.name == "mm" and number.denominator == 1 and 0 < number <= 400:
        return f"{number.numerator} mm"
    if (unit is None or unit.name == "in") and number in _NOMINAL_INCHES:
        return _NOMINAL_INCHES[number]
    metric = unit is None and number.denominator == 1 and 8 < number <= 400
    raise asked.problem(
        say("“{given}” is not a trade size in our tables."),
        say("If millimeters are meant, type {mm} mm.")
        if metric
        else say("Give a size such as 1/2, 3/4, 1-1/4 or 16 mm."),
        mm=number.numerator,
    )


#: Pressure classes of ASTM D2241 pipe and the ratio each goes with. Source: astm-d2241.
_CLASS_TO_SDR = {"315": "13.5", "250": "17", "200": "21", "160": "26", "125": "32.5", "100": "41"}

_PIPE_CLASS = re.compile(
    r"(?:pvc )?(?:schedule|sched|sch|c[eé]dula|c[eé]d|(?P<word>sidr|sdr|dr|class|cl|pn))?[.:# -]*"
    r"(?P<number>\d{1,3}(?:\.\d{1,2})?)(?: pvc)?"
)


def read_pipe_class(given: object, *, field: str) -> str:
    """A pipe class as the tables write it.

    Examples
    --------
    >>> [read_pipe_class(x, field="class") for x in ("sch40", "céd. 80", "SDR-13.5", "Class 200")]
    ['Sch 40', 'Sch 80', 'SDR 13.5', 'SDR 21']
    """
    found = None
    if isinstance(given, str | int | float) and not isinstance(given, bool):
        text = plain_text(Asked(given, field, _unit("")), as_text(given)).casefold()
        found = _PIPE_CLASS.fullmatch(text)
    if found is not None:
        word = found["word"] or ""
        number = f"{float(found['number']):g}"
        if not word and number in {"40", "80", "120"}:
            return f"Sch {number}"
        if word in {"class", "cl"} and number in _CLASS_TO_SDR:
            return f"SDR {_CLASS_TO_SDR[number]}"
        if word in {"sdr", "dr", "pn"} and number != "0":
            return f"{word.upper()} {number}"
        if word == "sidr" and number != "0":
            return f"SIDR-{number}"
    raise Problem(
        field,
        kept(given),
        say("“{given}” is not a pipe class we know.", given=shown(given)),
        say("Give the class as printed, such as Sch 40, SDR 21, Class 200 or SIDR 15."),
    )


def _too_long(text: str, field: str, limit: int) -> NoReturn:
    raise Problem(
        field,
        kept(text),
        say("This has more than {limit} characters.", limit=limit),
        say("Shorten it to {limit} or fewer.", limit=limit),
    )
