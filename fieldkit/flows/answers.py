"""Strict reading of what people type: one value, or one plain sentence.

A closed grammar reads the number; pint only converts a number and a unit we know. Text that
could be read two ways is asked again, never guessed. Everything here ends in a value or in a
``Problem``, whatever is typed, and looks at no more than ``LONGEST`` characters.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Sequence
from fractions import Fraction
from typing import NoReturn

from fieldkit.engine.problems import OutOfRange, Problem
from fieldkit.engine.words import Text, say
from fieldkit.flows.units import KINDS, OFFERED, Unit, convert, unit_of

#: One example a unit, for the sentence that says what would be right.
EXAMPLES = {
    "in": "0.700 in",
    "ft": "100 ft",
    "mm": "17.8 mm",
    "psi": "30 psi",
    "bar": "2 bar",
    "lbf": "50 lbf",
    "°F": "68 °F",
    "°C": "20 °C",
    "s": "30 s",
    "min": "15 min",
    "h": "6 h",
    "days": "2 days",
    "gpm": "5 gpm",
    "gph": "1 gph",
    "L/min": "20 L/min",
    "L/h": "4 L/h",
    "mL/min": "50 mL/min",
    "ft/s": "5 ft/s",
    "m/s": "1.5 m/s",
    "%": "50 %",
    "turns": "1.5 turns",
    "": "1.5",
}

#: More than this is not a number that anyone typed.
LONGEST = 60
_SHOWN, _KEPT = 40, 80

# Characters that stand for plainer ones. Digits of any script are read one by one elsewhere.
_PLAINER = {
    ord(one): plain
    for ones, plain in (
        ("‐‑‒–—−﹣－", "-"),
        ("＋", "+"),
        ("⁄∕／", "/"),
        ("．٫", "."),
        ("，٬", ","),
        ("’‘‛′＇ʹ´`", "'"),
        ("”“‟″＂〃ʺ", '"'),
        ("º˚", "°"),
        ("٪", "%"),
    )
    for one in ones
}

# Invisible and harmless: no width, or no more than "left to right" at either end.
_NO_WIDTH = dict.fromkeys(map(ord, "\u200b\u200c\u200d\u2060\ufeff\u00ad"))
_LEFT_TO_RIGHT = "\u200e\u2066\u2068\u2069"

# Characters that make text show in another order than it is stored: a size or a signed note
# could then be read as something else than what the log holds.
_REORDERING = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")

_NUMBER = re.compile(
    r"(?P<sign>[-+]?) ?(?:"
    r"(?:(?P<whole>\d+)(?:- ?| ))?(?P<top>\d+) ?/ ?(?P<bottom>\d+)"
    r"|(?P<decimal>(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d{1,4}(?!\d))?)"
    r")(?![\d./])"
)
_THOUSANDS = re.compile(r"[-+]? ?\d{1,3}(?:,\d{3})+(?:(?<=,\d{3},\d{3})|(?=\.\d))(?![\d,])")
_COMMA = re.compile(r"(?P<before>[-+]? ?\d*),(?P<after>\d+)(?P<rest>[^\d,.]*)")
_CHAINED = re.compile(r"(?P<unit>[^\d]+?)[-, ]*(?P<tail>\.?\d.*)")

# A larger unit may be followed by these smaller ones; so many of them make one of the larger.
_SMALLER = {
    "ft": {"in": 12},
    "days": {"h": 24, "min": 1440},
    "h": {"min": 60, "s": 3600},
    "min": {"s": 60},
}

_ABSOLUTE_ZERO = {"°F": -459.67, "°C": -273.15, "K": 0.0}


def read_quantity(
    given: object,
    unit: str,
    *,
    field: str,
    at_least: float | None = None,
    at_most: float | None = None,
) -> float:
    """A quantity in ``unit`` from text such as ``11/16 in``, ``17.8 mm``, or a bare number.

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
    wanted = unit_of(unit)
    if wanted is None:
        raise KeyError(f"no unit {unit!r} in flows.units")
    if isinstance(given, str):
        value = 0.0
        for number, found in _read_amounts(given, wanted, field):
            value += convert(_finite(number, given, field), found or wanted, wanted)
    else:
        value = _finite(_json_number(given, field, _example(wanted)), given, field)
    if not math.isfinite(value):
        _too_large(given, field)
    _check_bounds(value, wanted, given, field, at_least, at_most)
    return value


def _read_amounts(given: str, wanted: Unit, field: str) -> list[tuple[Fraction, Unit | None]]:
    """Numbers with their units, larger first: one as a rule, two in ``6' 2"``."""
    text = _plain_number_text(given, field, _example(wanted))
    amounts: list[tuple[Fraction, Unit | None]] = []
    while True:
        number, rest = _read_number(text, given, wanted, field)
        found, tail = _read_unit(rest, given, wanted, field)
        if amounts:
            found = _smaller_unit(amounts, number, text, found, given, wanted, field)
        amounts.append((number, found))
        if not tail:
            return amounts
        text = tail


def _read_number(text: str, given: str, wanted: Unit, field: str) -> tuple[Fraction, str]:
    if thousands := _THOUSANDS.match(text):
        text = thousands[0].replace(",", "") + text[thousands.end() :]
    elif comma := _COMMA.fullmatch(text):
        point = f"{comma['before'] or '0'}.{comma['after']}"
        joined = f"{comma['before']}{comma['after']}".lstrip("0") or "0"
        raise Problem(
            field,
            _kept(given),
            say(
                "“{given}” can be read as {point} or as {joined}.",
                given=_shown(given),
                point=point,
                joined=joined,
            ),
            say(
                "Use a point and no comma: {example}.",
                example=f"{joined}{comma['rest']} or {point}{comma['rest']}"
                if len(comma["after"]) == 3
                else f"{point}{comma['rest']}",
            ),
        )
    found = _NUMBER.match(text)
    if found is None:
        _not_a_number(given, field, _example(wanted))
    return _exact(found, given, field), text[found.end() :].strip()


def _exact(found: re.Match[str], given: str, field: str) -> Fraction:
    if found["decimal"] is not None:
        number = Fraction(found["decimal"].rstrip("."))
    else:
        top, bottom = int(found["top"]), int(found["bottom"])
        if bottom == 0 or (found["whole"] is not None and top >= bottom):
            raise Problem(
                field,
                _kept(given),
                say("“{given}” is not a fraction that can be read.", given=_shown(given)),
                say("Write it like 11/16 or 1-1/16."),
            )
        number = int(found["whole"] or 0) + Fraction(top, bottom)
    return -number if found["sign"] == "-" else number


def _read_unit(rest: str, given: str, wanted: Unit, field: str) -> tuple[Unit | None, str]:
    """The unit that follows a number, and what follows that: ``ft 2 in`` → ft, ``2 in``."""
    if not rest:
        return None, ""
    found, tail = unit_of(rest), ""
    if found is None and rest[0] == "-":  # "1/2-inch"
        found = unit_of(rest[1:])
        found = found if found is not None and found.kind == "length" else None
    if found is None and (chain := _CHAINED.fullmatch(rest)):
        found, tail = unit_of(chain["unit"]), chain["tail"]
        if found is not None and found.name not in _SMALLER:
            found = None
    if found is None and rest in {"°", "deg", "degrees"}:
        raise Problem(
            field,
            _kept(given),
            say("“{given}” can be read as °F or as °C.", given=_shown(given)),
            say("Add the letter, such as 68 °F or 20 °C."),
        )
    if found is None and not re.match(r"[^\W\d_]|[°%µ'\"]", rest):
        _not_a_number(given, field, _example(wanted))
    if found is None:
        raise Problem(
            field,
            _kept(given),
            say(
                "“{given}” has a unit that is not known here: {unit}.",
                given=_shown(given),
                unit=_shown(rest),
            ),
            say("Units that work: {units}.", units=OFFERED[wanted.kind])
            if wanted.name
            else say("Give a number without a unit, such as {example}.", example=_example(wanted)),
        )
    if found.kind != wanted.kind:
        raise Problem(
            field,
            _kept(given),
            say(
                "“{given}” is {found}, and {wanted} is asked here.",
                given=_shown(given),
                found=KINDS[found.kind],
                wanted=KINDS[wanted.kind],
            ),
            say(
                "Give {wanted}, such as {example}.",
                wanted=KINDS[wanted.kind],
                example=_example(wanted),
            ),
        )
    return found, tail


def _smaller_unit(
    before: list[tuple[Fraction, Unit | None]],
    number: Fraction,
    text: str,
    found: Unit | None,
    given: str,
    wanted: Unit,
    field: str,
) -> Unit:
    """Hold a following amount to be a smaller unit, and less than one of the larger."""
    count, larger = before[-1]
    name = larger.name if larger else ""
    if found is None and name == "h" and re.fullmatch(r"[0-5]\d", text):
        found = unit_of("min")  # "1h30" has one reading only
    limit = _SMALLER.get(name, {}).get(found.name if found else "")
    if found is None or limit is None or not 0 <= number < limit:
        _not_a_number(given, field, _example(wanted))
    if count < 0 or count.denominator != 1:
        _not_a_number(given, field, _example(wanted))
    return found


def _plain_number_text(given: str, field: str, example: str) -> str:
    """What was typed in plain characters, or a problem when it cannot hold a number."""
    text = given.strip()
    if len(text) > LONGEST:
        raise Problem(
            field,
            _kept(given),
            say("“{given}” is too long for one number.", given=_shown(given)),
            say("Type the number and its unit only, such as {example}.", example=example),
        )
    text = text.strip(_LEFT_TO_RIGHT + " ").translate(_NO_WIDTH)
    for one in text:
        kind = unicodedata.category(one)
        if (kind in {"Cc", "Cf", "Cs"} and one != "\t") or one in _REORDERING:
            raise Problem(
                field,
                _kept(given),
                say("“{given}” holds a character that cannot be seen.", given=_shown(given)),
                say("Type it again by hand, such as {example}.", example=example),
            )
    text = "".join(_plain_character(one) for one in text.translate(_PLAINER))
    text = " ".join(text.split())
    if not text:
        raise Problem(
            field,
            _kept(given),
            say("Nothing was typed here."),
            say("Type a number, such as {example}.", example=example),
        )
    return text


def _plain_character(one: str) -> str:
    digit = unicodedata.decimal(one, None)
    if digit is not None:
        return str(digit)
    if one in "½¼¾⅐⅑⅒⅓⅔⅕⅖⅗⅘⅙⅚⅛⅜⅝⅞":
        return f" {unicodedata.normalize('NFKC', one)} ".replace("⁄", "/")
    return one


def _json_number(given: object, field: str, example: str) -> Fraction:
    """A JSON number, exactly as it is written; anything else is a problem."""
    if isinstance(given, bool) or not isinstance(given, int | float):
        wrong = (
            say("Nothing was given here.")
            if given is None
            else say("True or false is not a number.")
            if isinstance(given, bool)
            else say("This is not one number.")
        )
        raise Problem(
            field,
            given if isinstance(given, bool) else None,
            wrong,
            say("Give one number with its unit, such as {example}.", example=example),
        )
    if isinstance(given, float):
        if not math.isfinite(given):
            raise Problem(
                field,
                str(given),
                say("“{given}” is not a finite number.", given=str(given)),
                say("Give a plain number, such as {example}.", example=example),
            )
        return Fraction(repr(given))
    return Fraction(given)


def _finite(number: Fraction, given: object, field: str) -> float:
    try:
        return float(number)
    except OverflowError:
        _too_large(given, field)


def _check_bounds(
    value: float,
    unit: Unit,
    given: object,
    field: str,
    at_least: float | None,
    at_most: float | None,
) -> None:
    zero = _ABSOLUTE_ZERO.get(unit.name)
    if zero is not None and value < zero:
        raise OutOfRange(
            field,
            _kept(given),
            say("“{given}” is colder than anything can be.", given=_shown(given)),
            say("Give a temperature, such as {example}.", example=_example(unit)),
        )
    if at_least is not None and value < at_least:
        raise OutOfRange(
            field,
            _kept(given),
            say(
                "“{given}” is less than {limit}.",
                given=_shown(given),
                limit=_amount(at_least, unit),
            ),
            say("Give {limit} or more.", limit=_amount(at_least, unit)),
        )
    if at_most is not None and value > at_most:
        raise OutOfRange(
            field,
            _kept(given),
            say(
                "“{given}” is more than {limit}.", given=_shown(given), limit=_amount(at_most, unit)
            ),
            say("Give {limit} or less.", limit=_amount(at_most, unit)),
        )


def read_choice(given: object, options: Sequence[str], *, field: str) -> str:
    """One of ``options``, in any letter case; spaces, ``-`` and ``_`` are the same.

    Examples
    --------
    >>> read_choice("Hazen-Williams", ["hazen_williams", "darcy"], field="method")
    'hazen_williams'
    """
    if isinstance(given, str) or (isinstance(given, int) and not isinstance(given, bool)):
        by_key = {_choice_key(option): option for option in options}
        found = by_key.get(_choice_key(_as_text(given)))
        if found is not None:
            return found
    raise Problem(
        field,
        _kept(given),
        say("“{given}” is not one of the choices here.", given=_shown(given)),
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
        found = _FLAGS.get(_as_text(given)[:20].strip().casefold())
        if found is not None:
            return found
    raise Problem(
        field,
        _kept(given),
        say("“{given}” is neither yes nor no.", given=_shown(given)),
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
            _kept(given),
            say("“{given}” is not a whole number.", given=_shown(given)),
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
    text = _as_text(given)
    if len(text) > 2 * limit + 100:  # no need to look through all of it
        _too_long(text, field, limit)
    text = text.replace("\r\n", "\n").replace("\r", "\n").replace("\t", " ")
    text = text.replace("\u2028", "\n").replace("\u2029", "\n")
    text = "".join(one for one in text if one not in _REORDERING)
    if any(_never_text(one) for one in text):
        raise Problem(
            field,
            _kept(text),
            say("“{given}” holds a character that cannot be shown.", given=_shown(text)),
            say("Type it again by hand."),
        )
    text = unicodedata.normalize("NFC", text).strip()
    if len(text) > limit:
        _too_long(text, field, limit)
    return text


def _never_text(one: str) -> bool:
    """Control characters, lone halves of a pair, and code points that are no character."""
    code = ord(one)
    if unicodedata.category(one) in {"Cc", "Cs"}:
        return one != "\n"
    return code & 0xFFFE == 0xFFFE or 0xFDD0 <= code <= 0xFDEF


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
    inch = Unit("in", "length", "inch")
    if isinstance(given, str):
        amounts = _read_amounts(given, inch, field)
        number, unit = amounts[0] if len(amounts) == 1 else (Fraction(-1), None)
    else:
        number, unit = _json_number(given, field, "1/2 in"), None
    if unit is not None and unit.name == "mm" and number.denominator == 1 and 0 < number <= 400:
        return f"{number.numerator} mm"
    if (unit is None or unit.name == "in") and number in _NOMINAL_INCHES:
        return _NOMINAL_INCHES[number]
    metric = unit is None and number.denominator == 1 and 8 < number <= 400
    raise Problem(
        field,
        _kept(given),
        say("“{given}” is not a trade size in our tables.", given=_shown(given)),
        say("If millimetres are meant, type {mm} mm.", mm=number.numerator)
        if metric
        else say("Give a size such as 1/2, 3/4, 1-1/4 or 16 mm."),
    )


#: Pressure classes of ASTM D2241 pipe and the ratio each goes with. Source: astm-d2241.
_CLASS_TO_SDR = {"315": "13.5", "250": "17", "200": "21", "160": "26", "125": "32.5", "100": "41"}

_PIPE_CLASS = re.compile(
    r"(?:pvc )?(?P<word>schedule|sched|sch|sidr|sdr|dr|class|cl|pn)?[.:# -]*"
    r"(?P<number>\d{1,3}(?:\.\d{1,2})?)(?: pvc)?"
)


def read_pipe_class(given: object, *, field: str) -> str:
    """A pipe class as the tables write it.

    Examples
    --------
    >>> [read_pipe_class(x, field="class") for x in ("sch40", "80", "SDR-13.5", "Class 200")]
    ['Sch 40', 'Sch 80', 'SDR 13.5', 'SDR 21']
    """
    found = None
    if isinstance(given, str | int | float) and not isinstance(given, bool):
        text = _plain_number_text(_as_text(given), field, "Sch 40").casefold()
        found = _PIPE_CLASS.fullmatch(text)
    if found is not None:
        word = found["word"] or ""
        number = f"{float(found['number']):g}"
        if word in {"", "sch", "sched", "schedule"} and number in {"40", "80", "120"}:
            return f"Sch {number}"
        if word in {"class", "cl"} and number in _CLASS_TO_SDR:
            return f"SDR {_CLASS_TO_SDR[number]}"
        if word in {"sdr", "dr", "pn"} and number != "0":
            return f"{word.upper()} {number}"
        if word == "sidr" and number != "0":
            return f"SIDR-{number}"
    raise Problem(
        field,
        _kept(given),
        say("“{given}” is not a pipe class we know.", given=_shown(given)),
        say("Give the class as printed, such as Sch 40, SDR 21, Class 200 or SIDR 15."),
    )


# ── What was given, fit to be shown and kept ─────────────────────────────────────────────────


def _as_text(given: str | float) -> str:
    """As text; whole JSON numbers without a point, and no digits past what a person types."""
    if isinstance(given, str):
        return given
    if isinstance(given, int):
        return str(given) if given.bit_length() < 200 else say("a very long number")
    return str(int(given)) if given.is_integer() and abs(given) < 1e15 else repr(given)


def _kept(given: object) -> object:
    """What was given, cut to a sane length, for the problem to carry back."""
    if given is None or isinstance(given, bool):
        return given
    if isinstance(given, int | float):
        return given if abs(given) < 1e300 else _as_text(given)
    return _cut(given, _KEPT) if isinstance(given, str) else None


def _shown(given: object) -> str:
    """What was given, short enough to stand inside a sentence."""
    if isinstance(given, bool) or given is None:
        return str(given).lower() if given is not None else ""
    if isinstance(given, str | int | float):
        return " ".join(_cut(_as_text(given).strip(), _SHOWN).split())
    return "…"


def _cut(text: str, limit: int) -> str:
    """At most ``limit`` characters, with a mark in place of those no page can carry."""
    short = text[:limit]
    clean = "".join(
        "\ufffd" if one not in "\n\t\r" and (one in _REORDERING or _never_text(one)) else one
        for one in short
    )
    return f"{clean}…" if len(text) > limit else clean


def _amount(value: float, unit: Unit) -> str:
    return f"{value:.10g} {unit.name}".strip()


def _example(unit: Unit) -> str:
    return EXAMPLES.get(unit.name, f"1 {unit.name}")


def _not_a_number(given: str, field: str, example: str) -> NoReturn:
    wrong: Text = say("“{given}” cannot be read as one number.", given=_shown(given))
    if re.fullmatch(r"\s*\d{1,2}:\d{2}\s*", given):
        wrong = say("“{given}” can be read as hours or as minutes.", given=_shown(given))
    raise Problem(
        field,
        _kept(given),
        wrong,
        say("Give a number and its unit, such as {example}.", example=example),
    )


def _too_large(given: object, field: str) -> NoReturn:
    raise OutOfRange(
        field,
        _kept(given),
        say("“{given}” is larger than any real measurement.", given=_shown(given)),
        say("Check the number and type it again."),
    )


def _too_long(text: str, field: str, limit: int) -> NoReturn:
    raise Problem(
        field,
        _kept(text),
        say("This has more than {limit} characters.", limit=limit),
        say("Shorten it to {limit} or fewer.", limit=limit),
    )
