"""What a JSON value may be: a few shapes, each of which finds the first part that does not fit.

A shape bounds depth, size and type at once. It takes time in proportion to the value, and less
where the value does not fit.
"""

from __future__ import annotations

import re
import types
from collections.abc import Mapping
from dataclasses import MISSING, dataclass, field, fields, is_dataclass
from datetime import datetime
from functools import cache
from typing import Any, Protocol, Union, get_args, get_origin, get_type_hints

from fieldkit.flows.question import (
    Choice,
    Confirm,
    Group,
    Quantity,
    Readings,
    Series,
    Several,
    Step,
    Whole,
    Words,
)
from fieldkit.typed.given import REORDERING


class Shape(Protocol):
    """What a value may be."""

    def misfit(self, value: Any) -> str | None:
        """Where the first part is that does not fit, as ``.name[2]``; None where all of it does."""


#: Controls, halves of a pair, and what makes text show in another order than it is kept.
_NEVER = re.compile(f"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ud800-\udfff{''.join(sorted(REORDERING))}]")


def _never(text: str) -> bool:
    return not text.isprintable() and _NEVER.search(text) is not None


@dataclass(frozen=True, slots=True)
class Number:
    """A finite number; true and false are none."""

    at_least: float = -1e9
    at_most: float = 1e9
    whole: bool = False

    def misfit(self, value: Any) -> str | None:
        """Where it does not fit."""
        plain = isinstance(value, int | float) and not isinstance(value, bool)
        if plain and self.at_least <= value <= self.at_most:
            return "" if self.whole and value != int(value) else None
        return ""


@dataclass(frozen=True, slots=True)
class Wording:
    """Text of up to ``limit`` characters, and of a certain form where one is given."""

    limit: int = 200
    form: str = ""

    def misfit(self, value: Any) -> str | None:
        """Where it does not fit."""
        fits = isinstance(value, str) and len(value) <= self.limit and not _never(value)
        return None if fits and (not self.form or re.fullmatch(self.form, value)) else ""


@dataclass(frozen=True, slots=True)
class OneOf:
    """One of a few values, and of their type."""

    values: tuple[str | bool, ...]

    def misfit(self, value: Any) -> str | None:
        """Where it does not fit."""
        return None if isinstance(value, str | bool) and value in self.values else ""


_MOMENT = re.compile(
    r"2\d\d\d-\d\d-\d\dT\d\d:\d\d(?::\d\d(?:\.\d{1,6})?)?(?:Z|[-+]\d\d:\d\d)", re.ASCII
)


@dataclass(frozen=True, slots=True)
class Moment:
    """A time of this millennium with its zone, ISO 8601."""

    def misfit(self, value: Any) -> str | None:
        """Where it does not fit."""
        if not isinstance(value, str) or len(value) > 40 or not _MOMENT.fullmatch(value):
            return ""
        try:
            datetime.fromisoformat(value)
        except ValueError:
            return ""
        return None


@dataclass(frozen=True, slots=True)
class Maybe:
    """A shape, or null."""

    shape: Shape

    def misfit(self, value: Any) -> str | None:
        """Where it does not fit."""
        return None if value is None else self.shape.misfit(value)


@dataclass(frozen=True, slots=True)
class Either:
    """The one shape or the other."""

    one: Shape
    other: Shape

    def misfit(self, value: Any) -> str | None:
        """Where it does not fit."""
        wrong = self.one.misfit(value)
        return None if wrong is None else self.other.misfit(value)


@dataclass(frozen=True, slots=True)
class ListOf:
    """A list of one shape."""

    shape: Shape
    at_most: int = 100

    def misfit(self, value: Any) -> str | None:
        """Where it does not fit."""
        if not isinstance(value, list | tuple) or len(value) > self.at_most:
            return ""
        for n, one in enumerate(value):
            if (wrong := self.shape.misfit(one)) is not None:
                return f"[{n}]{wrong}"
        return None


@dataclass(frozen=True, slots=True)
class Keyed:
    """Values of one shape under names of any kind."""

    shape: Shape
    at_most: int = 100
    key_limit: int = 120

    def misfit(self, value: Any) -> str | None:
        """Where it does not fit."""
        if not isinstance(value, Mapping) or len(value) > self.at_most:
            return ""
        for key, one in value.items():
            if not isinstance(key, str) or len(key) > self.key_limit or _never(key):
                return ""
            if (wrong := self.shape.misfit(one)) is not None:
                return f".{key[:40]}{wrong}"
        return None


@dataclass(frozen=True, slots=True)
class Parts:
    """Named parts, each of its own shape; ``needed`` must be there, ``more`` is what else may."""

    shapes: Mapping[str, Shape] = field(hash=False)
    needed: tuple[str, ...] = ()
    more: Shape | None = None

    def misfit(self, value: Any) -> str | None:
        """Where it does not fit."""
        if not isinstance(value, Mapping) or len(value) > 100:
            return ""
        for name in self.needed:
            if name not in value:
                return f".{name}"
        for key, one in value.items():
            shape = self.shapes.get(key, self.more)
            if shape is None or not isinstance(key, str) or _never(key):
                return ""
            if (wrong := shape.misfit(one)) is not None:
                return f".{key[:40]}{wrong}"
        return None


@dataclass(frozen=True, slots=True)
class Tree:
    """Any JSON of up to ``depth`` levels and ``size`` values; the log bounds all of it in bytes."""

    depth: int = 4
    size: int = 500

    def misfit(self, value: Any) -> str | None:
        """Where it does not fit."""
        level, seen = [value], 0
        for _ in range(self.depth + 1):
            seen += len(level)
            inner: list[Any] = []
            for one in level:
                if isinstance(one, str):
                    if _never(one):
                        return ""
                elif isinstance(one, int | float):
                    if not abs(one) <= 1e300:
                        return ""
                elif isinstance(one, dict):
                    inner.extend(one.values())
                elif isinstance(one, list | tuple):
                    inner.extend(one)
            if seen + len(inner) > self.size:
                return ""
            if not inner:
                return None
            level = inner
        return ""


#: Text that a page shows on one line.
TEXT = Wording(200)
FLAG = OneOf((True, False))


# ── Made from what is declared elsewhere ─────────────────────────────────────────────────────


@cache
def shape_of(hint: Any) -> Shape:
    """The shape of a type as ``engine.working.plain`` turns it into JSON.

    Examples
    --------
    >>> shape_of(tuple[float, ...]).misfit([1.0, "x"]), shape_of(float | None).misfit(None)
    ('[1]', None)
    """
    origin, args = get_origin(hint), get_args(hint)
    if origin in {types.UnionType, Union}:
        one, *others = (shape_of(arg) for arg in args if arg is not type(None))
        for other in others:
            one = Either(one, other)
        return Maybe(one) if type(None) in args else one
    if origin is tuple:
        return ListOf(shape_of(args[0]))
    if is_dataclass(hint):
        hints = get_type_hints(hint)
        needed = tuple(part.name for part in fields(hint) if part.default is MISSING)
        return Parts({name: shape_of(one) for name, one in hints.items()}, needed)
    if isinstance(hint, type) and issubclass(hint, str):
        return Wording(2000)
    simple: dict[object, Shape] = {bool: FLAG, int: Number(whole=True), float: Number()}
    return simple[hint]


def answer_shape(step: Step) -> Shape:
    """What an answer to a step may be; null is "can't tell"."""
    kind = step.kind
    match kind:
        case Quantity():
            least, most = kind.at_least, kind.at_most
            return Maybe(Number(-1e9 if least is None else least, 1e9 if most is None else most))
        case Readings():
            return Maybe(ListOf(Number(), len(kind.labels)))
        case Group():
            return Maybe(Parts({name: Number() for name, *_ in kind.parts}))
        case Series():
            return Maybe(ListOf(reading_shape(kind), 500))
        case Choice():
            return Maybe(OneOf(tuple(one.value for one in kind.options)))
        case Several():
            values = tuple(one.value for one in kind.options)
            return Maybe(ListOf(OneOf(values), len(values)))
        case Words():
            return Maybe(Wording(kind.limit))
        case Whole():
            return Maybe(Number(kind.at_least, kind.at_most, whole=True))
        case Confirm():
            return Maybe(OneOf((True,)))


def reading_shape(kind: Series) -> Shape:
    """What one reading of a series may be: its numbers, of which the first must be, and when."""
    numbers: dict[str, Shape] = {name: Number() for name, *_ in kind.parts}
    return Parts({**numbers, "at": Moment(), "entry": TEXT}, (kind.parts[0][0], "at"))
