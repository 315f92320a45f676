"""How a text is told to the reader of this page: in their language, in their units.

The rooms below make texts (``engine.words.say``) and know no language. Whoever shows a page sets
its teller for as long as that takes; without one, everything is told in plain English as made.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar, Token

from fieldkit.engine.words import Figure, Text

Teller = Callable[[object], str]

_TELLER: ContextVar[Teller] = ContextVar("teller", default=str)


def tell(value: object) -> str:
    """``value`` as the reader wants it told.

    Examples
    --------
    >>> from fieldkit.engine.words import Figure, say
    >>> tell(say("Up to {limit}.", limit=Figure(60, "psi")))
    'Up to 60 psi.'
    """
    return _TELLER.get()(value)


def as_measured(figure: Figure) -> Figure:
    """``figure`` in the reader's units, as ``tell`` writes it: for the scale of a drawing.

    A teller that changes units has a method ``as_measured``; any other leaves them.

    Examples
    --------
    >>> str(as_measured(Figure(60.0, "psi")))
    '60 psi'
    """
    changed = getattr(_TELLER.get(), "as_measured", None)
    return figure if changed is None else changed(figure)


def tell_with(teller: Teller) -> Token[Teller]:
    """Tell with ``teller`` from now on in this context; ``quiet`` ends that."""
    return _TELLER.set(teller)


def quiet(token: Token[Teller]) -> None:
    """Go back to the teller before."""
    _TELLER.reset(token)


@contextmanager
def telling(teller: Teller) -> Iterator[None]:
    """Tell with ``teller`` inside the block."""
    token = tell_with(teller)
    try:
        yield
    finally:
        quiet(token)


def as_text(value: str) -> Text:
    """A string of ours as a text of its own, to be looked up whole; a text stays as it is."""
    return value if isinstance(value, Text) else Text(value, {})
