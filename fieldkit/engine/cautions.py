"""Cautions as sentences an answer can carry."""

from __future__ import annotations

from fieldkit.engine.words import Text, say
from fieldkit.tables.cautions import cautions


def caution(*ids: str) -> tuple[Text, ...]:
    """The sentences of the cautions named, in that order.

    Raises
    ------
    KeyError
        No caution has that id: a mistake in the program, not of the person.
    """
    return tuple(say(cautions()[one].text) for one in ids)
