"""Canonical JSON (RFC 8785): one text for one value, in whatever language it was read and written.

JavaScript reads ``68.0`` and writes ``68``; Python writes ``1e-07`` where JavaScript writes
``1e-7``. A digest over this form does not notice, so a seal that is made on one device holds on
every other.
"""

from __future__ import annotations

from collections.abc import Mapping
from json.encoder import encode_basestring as quoted
from math import isfinite

#: Up to here every whole number is a number in every language (RFC 7493, section 2.2).
LARGEST_WHOLE = 2**53 - 1


def canonical(value: object) -> str:
    """The canonical text of a JSON value.

    Numbers are taken as IEEE 754 doubles, as the standard has it; so ``68`` and ``68.0`` are one.

    Raises
    ------
    ValueError
        It holds half a letter, a number that is not finite or that a double would round, a key
        that is no text, something that JSON does not know, or it is nested too deep.

    Source
    ------
    RFC 8785, section 3.2. Status: checked by tests against its examples and its appendix B.

    Examples
    --------
    >>> canonical({"temp_f": 68.0, "drop": [1e-7, -0.0, None, True], "a": "½"})
    '{"a":"½","drop":[1e-7,0,null,true],"temp_f":68}'
    """
    try:
        text = _text(value)
        text.encode()  # half a letter has no UTF-8
    except (RecursionError, OverflowError, TypeError) as error:
        raise ValueError("this has no canonical form") from error
    return text


def _text(value: object) -> str:
    if isinstance(value, str):
        return quoted(value)
    if isinstance(value, float):
        return number(value)
    if isinstance(value, Mapping):
        plain = "".join(value).isascii()
        keys = sorted(value) if plain else sorted(value, key=_units)
        return "{" + ",".join([f"{quoted(key)}:{_text(value[key])}" for key in keys]) + "}"
    if isinstance(value, list | tuple):
        return "[" + ",".join(map(_text, value)) + "]"
    if value is None:
        return "null"
    if isinstance(value, bool):
        return "true" if value else "false"
    # Further out, only what a browser can have written: the shortest figures of a double.
    if isinstance(value, int) and (
        abs(value) <= LARGEST_WHOLE or str(value) == number(float(value))
    ):
        return str(value)
    raise TypeError(type(value))


def _units(key: str) -> bytes:
    """Keys go in the order of their UTF-16 code units."""
    return key.encode("utf-16-be")


def number(value: float) -> str:
    """A number as ECMAScript writes it: the shortest digits, an exponent only far from one.

    Raises
    ------
    ValueError
        It is not finite.

    Source
    ------
    RFC 8785, section 3.2.2.3. Status: checked by tests against its appendix B.

    Examples
    --------
    >>> number(1e16), number(1e21), number(0.00001), number(1e-7)
    ('10000000000000000', '1e+21', '0.00001', '1e-7')
    """
    if not isfinite(value):
        raise ValueError("a number that is not finite")
    if not value:
        return "0"
    mantissa, _, exponent = repr(value).removesuffix(".0").partition("e")
    if not exponent:
        return mantissa
    power = int(exponent)
    if not -7 < power < 21:
        return f"{mantissa}e{power:+d}"
    sign, figures = "-" * (value < 0), mantissa.lstrip("-").replace(".", "")
    if power < 0:
        return f"{sign}0.{'0' * (-power - 1)}{figures}"
    return sign + figures.ljust(power + 1, "0")
