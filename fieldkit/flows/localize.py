"""How a text is put for the reader of this page: in their language, in their units.

The rooms below make texts (``engine.words.say``) and know no language. Whoever shows a page sets
its localizer for as long as that takes; without one, everything stays in plain English as made.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar, Token

from fieldkit.engine.words import Figure, Text

Localizer = Callable[[object], str]

_LOCALIZER: ContextVar[Localizer] = ContextVar("localizer", default=str)


def localize(value: object) -> str:
    """``value`` in the reader’s language and units.

    Examples
    --------
    >>> from fieldkit.engine.words import Figure, say
    >>> localize(say("Up to {limit}.", limit=Figure(60, "psi")))
    'Up to 60 psi.'
    """
    return _LOCALIZER.get()(value)


def as_measured(figure: Figure) -> Figure:
    """``figure`` in the reader's units, as ``localize`` writes it: for the scale of a drawing.

    A localizer that changes units has a method ``as_measured``; any other leaves them.

    Examples
    --------
    >>> str(as_measured(Figure(60.0, "psi")))
    '60 psi'
    """
    changed = getattr(_LOCALIZER.get(), "as_measured", None)
    return figure if changed is None else changed(figure)


def use_localizer(localizer: Localizer) -> Token[Localizer]:
    """Use ``localizer`` from now on in this context; ``restore_localizer`` ends that."""
    return _LOCALIZER.set(localizer)


def restore_localizer(token: Token[Localizer]) -> None:
    """Go back to the localizer before."""
    _LOCALIZER.reset(token)


@contextmanager
def localizing(localizer: Localizer) -> Iterator[None]:
    """Use ``localizer`` inside the block."""
    token = use_localizer(localizer)
    try:
        yield
    finally:
        restore_localizer(token)


def as_text(value: str) -> Text:
    """A string of ours as a text of its own, to be looked up whole; a text stays as it is."""
    return value if isinstance(value, Text) else Text(value, {})
