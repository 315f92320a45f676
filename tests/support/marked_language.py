"""A language that marks every text it is asked for: what is left unmarked was never told."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache

from support.catalogue import gathered
from support.inspection import HTML

#: Attributes whose words people read or hear.
_READ_OUT = ("alt", "aria-label", "aria-roledescription", "placeholder", "title")

OPEN, CLOSE = "⟦", "⟧"

#: What goes into a formula: figures in its own units, symbols, and ids of tables.
_FIGURES = "lines__in"

#: Names of sizes in standards, of times, and addresses: the same in every language.
_CODES = re.compile(r"\b(SDR|SIDR|DR|PN|Sch|Class|UTC|in|mm|psi|gpm|gph)\b|https?://[\w./:-]+")


class Marking:
    """Stands in for a catalogue: each text that a catalogue has comes back between marks."""

    def __init__(self) -> None:
        self._known = _texts_there_are()

    def ugettext(self, message: str) -> str:
        """The message, marked if there is such a text."""
        return f"{OPEN}{message}{CLOSE}" if message in self._known else message


@cache
def _texts_there_are() -> frozenset[str]:
    return frozenset(gathered())


def not_localized(document) -> Iterator[str]:
    """The words of a parsed page outside all marks: names, figures, and what was forgotten."""
    depth = 0
    for text, apart in _texts(document):
        outside, after = _outside(text, 0 if apart else depth)
        if not apart:
            depth = after
        if re.search(r"[^\W\d_]{2,}", _CODES.sub("", outside)):
            yield " ".join(outside.split())


def _texts(node) -> Iterator[tuple[str, bool]]:
    """Every text in reading order; those of attributes stand apart from the flow."""
    if node.tag in {HTML + "script", HTML + "style", HTML + "time"}:
        return
    if _FIGURES in node.attrib.get("class", "").split():
        return
    for name in _READ_OUT:
        if name in node.attrib:
            yield node.attrib[name], True
    yield node.text or "", False
    for child in node:
        if isinstance(child.tag, str):
            yield from _texts(child)
        yield child.tail or "", False


def _outside(text: str, depth: int) -> tuple[str, int]:
    kept = []
    for one in text:
        if one == OPEN:
            depth += 1
        elif one == CLOSE:
            depth -= 1
        elif depth == 0:
            kept.append(one)
    return "".join(kept), depth
