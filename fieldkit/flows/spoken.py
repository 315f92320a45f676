"""Texts of a flow: plain strings in its declaration that can still be told anew."""

from __future__ import annotations

from typing import Any, ClassVar

from fieldkit.engine.words import Text


class Spoken:
    """Declares texts: the fields named in ``TEXTS`` become texts that can be told anew.

    Of the tuples in the fields named in ``SECOND``, such as (what is typed, what it says), the
    second is one. So a flow is written in plain strings, and each can still be translated.
    """

    __slots__ = ()
    TEXTS: ClassVar[tuple[str, ...]] = ()
    SECOND: ClassVar[tuple[str, ...]] = ()

    def __post_init__(self) -> None:
        """Make texts of the plain strings."""
        for name in self.TEXTS:
            object.__setattr__(self, name, _texts(getattr(self, name)))
        for name in self.SECOND:
            pairs = getattr(self, name)
            told = tuple((first, _texts(second), *rest) for first, second, *rest in pairs)
            object.__setattr__(self, name, told)


def _texts(value: Any) -> Any:
    """``value`` with each plain string in it, however deep, made a text."""
    if type(value) is str:
        return Text(value, {}) if value else value
    if isinstance(value, tuple | list):
        return tuple(_texts(one) for one in value)
    return value
