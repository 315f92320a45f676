"""The grammar of one typed amount: a number, exactly as it was written, and its unit.

``11/16``, ``1-1/16"``, ``½ in``, ``.700``, ``17.8 mm``, ``6' 2"``, ``1 h 30 min``. Digits may be
of any script. What has two readings, such as ``17,8``, is a problem that shows both.
"""

from __future__ import annotations

import math
import re
import unicodedata
from dataclasses import dataclass
from fractions import Fraction

from fieldkit.engine.problems import OutOfRange, Problem
from fieldkit.engine.words import Quote, Text, say
from fieldkit.typed.given import REORDERING, kept, shown
from fieldkit.typed.units import KINDS, OFFERED, Unit, example_of, unit_of

#: More characters than this are not a number that anyone typed.
LONGEST = 60

#: A number and its unit; no unit when none was typed.
Amount = tuple[Fraction, Unit | None]


@dataclass(frozen=True, slots=True)
class Asked:
    """What was given, for which question, and the unit the question is in."""

    given: object
    field: str
    unit: Unit

    def problem(self, wrong: str, instead: str, **parts: object) -> Problem:
        """A problem with both templates filled; ``{given}`` and ``{example}`` are known.

        The templates come as ``say("…")``, so that they are found for translation.
        """
        return Problem(self.field, kept(self.given), *self._filled(wrong, instead, parts))

    def out_of_range(self, wrong: str, instead: str, **parts: object) -> OutOfRange:
        """The same for a number outside its bounds."""
        return OutOfRange(self.field, kept(self.given), *self._filled(wrong, instead, parts))

    def not_a_number(self) -> Problem:
        """The problem of text in which no single number can be found."""
        return self.problem(
            say("“{given}” cannot be read as one number."),
            say("Give a number and its unit, such as {example}."),
        )

    def _filled(self, wrong: str, instead: str, parts: dict[str, object]) -> tuple[Text, Text]:
        parts = {"given": shown(self.given), "example": example_of(self.unit.name)} | parts
        return _say(wrong, parts), _say(instead, parts)


def _say(template: str, parts: dict[str, object]) -> Text:
    return say(
        str(template), **{name: part for name, part in parts.items() if f"{{{name}}}" in template}
    )


# ── Characters ───────────────────────────────────────────────────────────────────────────────

# Characters that stand for plainer ones. Digits of any script are read one by one below.
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
_FRACTIONS = frozenset("½¼¾⅐⅑⅒⅓⅔⅕⅖⅗⅘⅙⅚⅛⅜⅝⅞")

# Invisible and harmless: without width, or no more than "left to right" at either end.
_NO_WIDTH = dict.fromkeys(map(ord, "\u200b\u200c\u200d\u2060\ufeff\u00ad"))
_LEFT_TO_RIGHT = " \u200e\u2066\u2068\u2069"


def plain_text(asked: Asked, given: str) -> str:
    """What was typed in plain characters, or the problem that it cannot hold a number."""
    text = given.strip()
    if len(text) > LONGEST:
        raise asked.problem(
            say("“{given}” is too long for one number."),
            say("Type the number and its unit only, such as {example}."),
        )
    text = text.strip(_LEFT_TO_RIGHT).translate(_NO_WIDTH)
    if any(_unseen(one) for one in text):
        raise asked.problem(
            say("“{given}” holds a character that cannot be seen."),
            say("Type it again by hand, such as {example}."),
        )
    text = " ".join("".join(_plain_character(one) for one in text.translate(_PLAINER)).split())
    if not text:
        raise asked.problem(
            say("Nothing was typed here."), say("Type a number, such as {example}.")
        )
    return text


def _unseen(one: str) -> bool:
    return one in REORDERING or (one != "\t" and unicodedata.category(one) in {"Cc", "Cf", "Cs"})


def _plain_character(one: str) -> str:
    if one in _FRACTIONS:
        return f" {unicodedata.normalize('NFKC', one)} ".replace("⁄", "/")
    digit = unicodedata.decimal(one, None)
    return one if digit is None else str(digit)


# ── Numbers ──────────────────────────────────────────────────────────────────────────────────

_NUMBER = re.compile(
    r"(?P<sign>[-+]?) ?(?:"
    r"(?:(?P<whole>\d++)(?:- ?| ))?(?P<top>\d++) ?/ ?(?P<bottom>\d++)"
    r"|(?P<decimal>(?:\d++\.?\d*+|\.\d++)(?:[eE][-+]?\d{1,4}(?!\d))?)"
    r")(?![\d./])"
)
# Commas with one reading only: two groups of three or more, or a point after them.
_THOUSANDS = re.compile(r"[-+]? ?\d{1,3}(?:(?:,\d{3}){2,}|,\d{3}(?=\.\d))(?![\d,])")
_COMMA = re.compile(r"(?P<before>[-+]? ?\d*),(?P<after>\d+)(?P<rest>[^\d,.]*)")


def _read_number(text: str, asked: Asked) -> tuple[Fraction, str]:
    """The number that ``text`` begins with, and the rest."""
    if thousands := _THOUSANDS.match(text):
        text = thousands[0].replace(",", "") + text[thousands.end() :]
    elif comma := _COMMA.fullmatch(text):
        raise _two_readings(comma, asked)
    found = _NUMBER.match(text)
    if found is None:
        raise asked.not_a_number()
    return _exact(found, asked), text[found.end() :].strip()


def _two_readings(comma: re.Match[str], asked: Asked) -> Problem:
    point = f"{comma['before'] or '0'}.{comma['after']}"
    joined = f"{comma['before']}{comma['after']}".lstrip("0") or "0"
    likely: object = Quote(f"{point}{comma['rest']}")
    if len(comma["after"]) == 3:
        likely = say("{one} or {other}", one=Quote(f"{joined}{comma['rest']}"), other=likely)
    return asked.problem(
        say("“{given}” can be read as {point} or as {joined}."),
        say("Use a point and no comma: {likely}."),
        point=point,
        joined=joined,
        likely=likely,
    )


def _exact(found: re.Match[str], asked: Asked) -> Fraction:
    if found["decimal"] is not None:
        number = Fraction(found["decimal"].rstrip("."))
    else:
        top, bottom = int(found["top"]), int(found["bottom"])
        if bottom == 0 or (found["whole"] is not None and top >= bottom):
            raise asked.problem(
                say("“{given}” is not a fraction that can be read."),
                say("Write it like 11/16 or 1-1/16."),
            )
        number = int(found["whole"] or 0) + Fraction(top, bottom)
    return -number if found["sign"] == "-" else number


def json_number(asked: Asked) -> Fraction:
    """A JSON number, exactly as it is written; true, false, lists and the rest are problems."""
    given = asked.given
    instead = say("Give one number, such as {example}.")
    if given is None:
        raise asked.problem(say("Nothing was given here."), instead)
    if isinstance(given, bool):
        raise asked.problem(say("True or false is not a number."), instead)
    if isinstance(given, float):
        if not math.isfinite(given):
            raise asked.problem(say("“{given}” is not a finite number."), instead)
        return Fraction(repr(given))  # 0.7 as seven tenths, not as its nearest float
    if isinstance(given, int):
        return Fraction(given)
    raise asked.problem(say("This is not one number."), instead)


# ── Units ────────────────────────────────────────────────────────────────────────────────────

_NEXT_NUMBER = re.compile(r"\.?\d")

# A larger unit may be followed by these smaller ones; so many of them make one of the larger.
_SMALLER = {
    "ft": {"in": 12},
    "days": {"h": 24, "min": 1440},
    "h": {"min": 60, "s": 3600},
    "min": {"s": 60},
}


def read_amounts(asked: Asked, given: str) -> list[Amount]:
    """Numbers with their units: one as a rule, larger first in ``6' 2"``.

    Raises
    ------
    Problem
        It cannot be read, could be read two ways, or its unit is of another kind than asked.
    """
    text = plain_text(asked, given)
    amounts: list[Amount] = []
    while text:
        number, rest = _read_number(text, asked)
        if amounts:
            rest = _after_larger(amounts[-1], text, rest)
        found, tail = _read_unit(rest, asked)
        if amounts and not _fits_after(amounts[-1], number, found):
            raise asked.not_a_number()
        amounts.append((number, found))
        text = tail
    return amounts


def _after_larger(larger: Amount, text: str, rest: str) -> str:
    """After hours, two bare digits or ``m`` can only be minutes: ``1h30``, ``1h30m``."""
    hours = larger[1] is not None and larger[1].name == "h"
    return "min" if hours and re.fullmatch(r"[0-5]\d ?m?", text) else rest


def _fits_after(larger: Amount, number: Fraction, found: Unit | None) -> bool:
    """A whole count of a larger unit, then less than one of it in a smaller unit."""
    count, unit = larger
    if unit is None or found is None or count < 0 or count.denominator != 1:
        return False
    limit = _SMALLER.get(unit.name, {}).get(found.name)
    return limit is not None and 0 <= number < limit


def _read_unit(rest: str, asked: Asked) -> tuple[Unit | None, str]:
    """The unit that follows a number, and what follows that: ``ft 2 in`` → ft, ``2 in``."""
    if not rest:
        return None, ""
    found, tail = unit_of(rest), ""
    if found is None and rest[0] == "-":  # "1/2-inch"
        found = unit_of(rest[1:])
        found = found if found is not None and found.kind == "length" else None
    if found is None and (number := _NEXT_NUMBER.search(rest)):
        found, tail = unit_of(rest[: number.start()].rstrip("-, ")), rest[number.start() :]
        found = found if found is not None and found.name in _SMALLER else None
    if found is None:
        raise _unknown_unit(rest, asked)
    if found.kind != asked.unit.kind:
        raise asked.problem(
            say("“{given}” is {found}, and {wanted} is asked here."),
            say("Give {wanted}, such as {example}."),
            found=KINDS[found.kind],
            wanted=KINDS[asked.unit.kind],
        )
    return found, tail


def _unknown_unit(rest: str, asked: Asked) -> Problem:
    if rest in {"°", "deg", "degrees"}:
        return asked.problem(
            say("“{given}” can be read as °F or as °C."),
            say("Add the letter, such as 68 °F or 20 °C."),
        )
    if asked.unit.kind == "time" and re.fullmatch(r":\d\d", rest):
        return asked.problem(
            say("“{given}” can be read as hours and minutes or as minutes and seconds."),
            say("Write the units out, such as 1 h 30 min."),
        )
    if not (rest[0].isalpha() or rest[0] in "°%µ'\""):
        return asked.not_a_number()
    return asked.problem(
        say("“{given}” has a unit that is not known here: {unit}."),
        say("Units that work: {units}.")
        if asked.unit.name
        else say("Give a number without a unit, such as {example}."),
        unit=shown(rest),
        units=OFFERED[asked.unit.kind],
    )
