"""A calculation's request: JSON whose quantities are text as a person types it.

Each reading method names the field it reads, so a problem points at the very box or key, and
``unused`` tells which keys nobody read: a misspelt key is never dropped in silence.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any, TypeVar

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import say
from fieldkit.typed import answers
from fieldkit.typed.given import kept, shown

T = TypeVar("T")
D = TypeVar("D")


class Request:
    """Typed reading of one JSON object."""

    def __init__(self, body: object, path: str = "") -> None:
        if not isinstance(body, Mapping):
            raise Problem(
                path or "request",
                kept(body),
                say("This is not a set of named values."),
                say("Send a JSON object, such as {example}.", example='{"od": "0.700 in"}'),
            )
        self._body = body
        self._path = path
        self._read: set[str] = set()
        self._children: list[Request] = []

    def field(self, key: str) -> str:
        """The dotted name of ``key``."""
        key = shown(key)  # where the keys are the sender's own, such as prices by part
        return f"{self._path}.{key}" if self._path else key

    def has(self, key: str) -> bool:
        """Whether ``key`` was sent with something in it."""
        return not _nothing(self._body.get(key))

    def raw(self, key: str) -> object:
        """What was sent for ``key``, marked as read."""
        self._read.add(key)
        return self._body.get(key)

    def missing(self, key: str, example: object) -> Problem:
        """The problem of a value that must be there and is not."""
        return Problem(
            self.field(key),
            None,
            say("Nothing was given here."),
            say("Give a value, such as {example}.", example=example),
        )

    def take(self, key: str, read: Callable[..., T], default: D, **limits: Any) -> T | D:
        """What ``read`` makes of ``key`` within its limits; ``default`` where nothing was sent."""
        given = self.raw(key)
        return default if _nothing(given) else read(given, field=self.field(key), **limits)

    def quantity(
        self,
        key: str,
        unit: str,
        *,
        default: float | None = None,
        at_least: float | None = None,
        at_most: float | None = None,
    ) -> float | None:
        """A quantity in ``unit``; a bare number is taken to be in it already."""
        bounds = {"at_least": at_least, "at_most": at_most}
        return self.take(key, answers.read_quantity, default, unit=unit, **bounds)

    def need_quantity(
        self,
        key: str,
        unit: str,
        *,
        at_least: float | None = None,
        at_most: float | None = None,
    ) -> float:
        """A quantity that must be there."""
        value = self.quantity(key, unit, at_least=at_least, at_most=at_most)
        if value is None:
            raise self.missing(key, answers.example_of(unit))
        return value

    def quantities(
        self, key: str, unit: str, *, at_least: int = 1, at_most: int = 50
    ) -> tuple[float, ...]:
        """A list of quantities in ``unit``."""
        given = self.raw(key)
        if _nothing(given):
            raise self.missing(key, say('["{example}"]', example=answers.example_of(unit)))
        if isinstance(given, str) or not isinstance(given, Sequence):
            given = [given]
        if not at_least <= len(given) <= at_most:
            raise Problem(
                self.field(key),
                None,
                say("{n} values were given here.", n=len(given)),
                say("Give {low} to {high}.", low=at_least, high=at_most),
            )
        return tuple(
            answers.read_quantity(one, unit, field=f"{self.field(key)}[{i}]")
            for i, one in enumerate(given)
        )

    def choice(self, key: str, options: Sequence[str], *, default: str | None = None) -> str | None:
        """One of ``options``, in any letter case."""
        return self.take(key, answers.read_choice, default, options=options)

    def flag(self, key: str, *, default: bool | None = None) -> bool | None:
        """True or false; also the words yes and no."""
        return self.take(key, answers.read_flag, default)

    def whole(
        self, key: str, *, default: int | None = None, at_least: int = 0, at_most: int = 10_000
    ) -> int | None:
        """A whole number."""
        return self.take(key, answers.read_whole, default, at_least=at_least, at_most=at_most)

    def text(self, key: str, *, default: str = "", limit: int = 2000) -> str:
        """Free text, trimmed, with control characters refused."""
        return self.take(key, answers.read_text, default, limit=limit)

    def nominal(self, key: str) -> str | None:
        """A trade size as our tables write it: ``1/2``, ``1-1/4``, ``2``, ``25 mm``."""
        return self.take(key, answers.read_nominal, None)

    def pipe_class(self, key: str, *, default: str | None = None) -> str | None:
        """A pipe class as our tables write it: ``Sch 40``, ``SDR 21``, ``SIDR-15``."""
        return self.take(key, answers.read_pipe_class, default)

    def inside(self, body: object, path: str) -> Request:
        """The request that reads an object within this one."""
        return Request(body, path)

    def child(self, key: str) -> Request:
        """A nested object; an empty one when nothing was sent."""
        given = self.raw(key)
        child = self.inside({} if given is None else given, self.field(key))
        self._children.append(child)
        return child

    def children(self, key: str, *, at_most: int = 200) -> tuple[Request, ...]:
        """A list of nested objects."""
        given = self.raw(key)
        if given is None:
            return ()
        if isinstance(given, str | Mapping) or not isinstance(given, Sequence):
            raise Problem(
                self.field(key),
                None,
                say("This is not a list."),
                say("Send a JSON list of objects."),
            )
        if len(given) > at_most:
            raise Problem(
                self.field(key),
                None,
                say("{n} rows were given here.", n=len(given)),
                say("Give {high} or fewer.", high=at_most),
            )
        children = tuple(self.inside(one, f"{self.field(key)}[{i}]") for i, one in enumerate(given))
        self._children.extend(children)
        return children

    def unused(self) -> tuple[str, ...]:
        """The dotted names of everything sent that no one read."""
        own = [self.field(str(key)) for key in self._body if key not in self._read]
        for child in self._children:
            own.extend(child.unused())
        return tuple(own)


def _nothing(given: object) -> bool:
    """Whether a value was left out: absent, null, or text without a character in it."""
    return given is None or (isinstance(given, str) and not given.strip())
