"""JSON read piece by piece: a file of any size takes the memory of its largest single value."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from itertools import count
from json import JSONDecodeError, JSONDecoder
from typing import Any

#: Longest single value: the largest photo as text, or the largest signature. [characters]
LONGEST = 24_000_000

#: Most parts of one value. The largest signature has 300,000; a part may take 150 bytes of memory.
MOST_PARTS = 600_000

_LOT = 1 << 16
#: A text that is shorter holds few parts, or is soon read. [characters]
_SHORT = 1 << 20
_SPACE = re.compile(r"[ \t\r\n]*")
_decode = JSONDecoder().raw_decode


def require_few_parts(text: str) -> None:
    """Refuse JSON that would fill the memory once it is read, before it is.

    Raises
    ------
    JSONDecodeError
        It has more than ``MOST_PARTS``, or looks as if it had.
    """
    if len(text) > _SHORT and sum(map(text.count, "[{,")) > MOST_PARTS:
        raise JSONDecodeError("Too many parts", "", 0)


class _Reader:
    """What of a text is still to be read, as much of it at a time as is needed."""

    def __init__(self, read: Callable[[int], str]) -> None:
        self._read = read
        self._text = ""
        self._at = 0

    def sign(self) -> str:
        """The next character that is no space, which stays; empty at the end."""
        while True:
            space = _SPACE.match(self._text, self._at)
            self._at = space.end() if space else self._at
            if self._at < len(self._text):
                return self._text[self._at]
            if not self._more():
                return ""

    def take(self, signs: str) -> str:
        """The next character, which must be one of these."""
        found = self.sign()
        if not found or found not in signs:
            raise JSONDecodeError(f"Expecting one of {signs}", "", 0)
        self._at += 1
        return found

    def value(self) -> Any:
        """The next value, of any kind."""
        self.sign()
        while True:
            require_few_parts(self._text)
            try:
                found, end = _decode(self._text, self._at)
            except JSONDecodeError:
                if len(self._text) - self._at > LONGEST or not self._more():
                    raise
                continue
            if end < len(self._text) or not self._more():  # a number may go on
                self._at = end
                return found

    def parted(self, begin: str, end: str) -> Iterator[int]:
        """Through an object or a list: 1, 2 … wherever one of its parts stands next."""
        self.take(begin)
        if self.sign() == end:
            self.take(end)
            return
        for n in count(1):
            yield n
            if self.take("," + end) == end:
                return

    def _more(self) -> bool:
        """Read on: each time as much as is waiting, so that a long value is soon there."""
        lot = self._read(max(_LOT, len(self._text) - self._at))
        if lot:
            self._text, self._at = self._text[self._at :] + lot, 0
        return bool(lot)


def members(read: Callable[[int], str]) -> Iterator[tuple[str, int, Any]]:
    """Each member of the JSON object in a text: its name, its place in a list, and the value.

    Parameters
    ----------
    read : callable
        Gives up to so many characters of the text; nothing at its end.

    Yields
    ------
    tuple of (str, int, JSON value)
        A list comes as place 0 without a value, then each of its items from place 1; any other
        value at place -1.

    Raises
    ------
    ValueError, RecursionError
        It is no JSON object, is cut short, or holds one value longer than ``LONGEST``.

    Examples
    --------
    >>> import io
    >>> list(members(io.StringIO('{"a": 1, "b": [2, "c"]}').read))
    [('a', -1, 1), ('b', 0, None), ('b', 1, 2), ('b', 2, 'c')]
    """
    text = _Reader(read)
    for _ in text.parted("{", "}"):
        name = text.value()
        if not isinstance(name, str):
            raise JSONDecodeError("Expecting a name", "", 0)
        text.take(":")
        if text.sign() != "[":
            yield name, -1, text.value()
            continue
        yield name, 0, None
        for n in text.parted("[", "]"):
            yield name, n, text.value()
    if text.sign():
        raise JSONDecodeError("Extra data", "", 0)
