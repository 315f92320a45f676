"""Strict reading of what people type: one value, or one plain sentence.

A closed grammar reads the number; pint only converts a number and a unit we know. Text that
could be read two ways is asked again, never guessed.
"""

from __future__ import annotations

from collections.abc import Sequence

#: One example a unit, for the sentence that says what would be right.
EXAMPLES = {
    "in": "0.700 in",
    "ft": "100 ft",
    "psi": "30 psi",
    "°F": "68 °F",
    "min": "15 min",
    "h": "6 h",
    "s": "30 s",
    "gpm": "5 gpm",
    "gph": "1 gph",
    "ft/s": "5 ft/s",
    "%": "50 %",
}


def read_quantity(
    given: object,
    unit: str,
    *,
    field: str,
    at_least: float | None = None,
    at_most: float | None = None,
) -> float:
    """A quantity in ``unit`` from text such as ``11/16 in``, ``17.8 mm``, or a bare number."""
    raise NotImplementedError


def read_choice(given: object, options: Sequence[str], *, field: str) -> str:
    """One of ``options``, in any letter case."""
    raise NotImplementedError


def read_flag(given: object, *, field: str) -> bool:
    """True or false; also yes and no."""
    raise NotImplementedError


def read_whole(given: object, *, field: str, at_least: int, at_most: int) -> int:
    """A whole number."""
    raise NotImplementedError


def read_text(given: object, *, field: str, limit: int) -> str:
    """Free text, trimmed."""
    raise NotImplementedError


def read_nominal(given: object, *, field: str) -> str:
    """A trade size as the tables write it."""
    raise NotImplementedError


def read_pipe_class(given: object, *, field: str) -> str:
    """A pipe class as the tables write it."""
    raise NotImplementedError
