"""What was given, fit to stand in a sentence and to be carried back by a problem."""

from __future__ import annotations

import unicodedata

from fieldkit.engine.words import Quote

#: Characters that make text show in another order than it is stored: a size or a signed note
#: could then be read as something else than what the log holds.
REORDERING = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")

_SHOWN, _KEPT = 40, 80
_HUGE = "a very long number"


def never_text(one: str) -> bool:
    """Control characters, lone halves of a pair, and code points that are no character."""
    if unicodedata.category(one) in {"Cc", "Cs"}:
        return one != "\n"
    return ord(one) & 0xFFFE == 0xFFFE or 0xFDD0 <= ord(one) <= 0xFDEF


def as_text(given: str | float) -> str:
    """As a person would type it: whole JSON numbers without a point.

    Examples
    --------
    >>> as_text(40), as_text(40.0), as_text(13.5), as_text(10**5000)
    ('40', '40', '13.5', 'a very long number')
    """
    if isinstance(given, str):
        return given
    if isinstance(given, int):  # Python itself refuses to print one of many thousand digits
        return str(given) if given.bit_length() < 200 else _HUGE
    return str(int(given)) if given.is_integer() and abs(given) < 1e15 else repr(given)


def kept(given: object) -> str | float | bool | None:
    """What was given, cut to a sane length, for a problem to carry back; lists are not kept.

    Examples
    --------
    >>> kept(0.7), len(kept("x" * 10_000)), kept([1, 2])
    (0.7, 81, None)
    """
    if isinstance(given, str):
        return _cut(given, _KEPT)
    if isinstance(given, bool):
        return given
    if isinstance(given, int | float):
        return given if abs(given) < 1e300 else as_text(given)  # false of nan, too
    return None


def shown(given: object) -> Quote:
    """What was given, on one line and short enough to stand inside a sentence.

    Examples
    --------
    >>> shown("  0.7\\n in "), shown(True), shown({})
    ('0.7 in', 'true', '…')
    """
    if isinstance(given, bool):
        return Quote(str(given).lower())
    if isinstance(given, str | int | float):
        return Quote(" ".join(_cut(as_text(given).strip(), _SHOWN).split()))
    return Quote("…" if given is not None else "")


def _cut(text: str, limit: int) -> str:
    """At most ``limit`` characters, with a mark in place of those no page can carry."""
    clean = "".join(
        "\ufffd" if one not in "\t\r" and (one in REORDERING or never_text(one)) else one
        for one in text[:limit]
    )
    return f"{clean}…" if len(text) > limit else clean
