"""Figures, times, prices and counts as texts, for the blocks that a flow shows."""

from __future__ import annotations

from fieldkit.engine.strength import load_figure, rating_figure
from fieldkit.engine.words import Figure, Span, Text, say
from fieldkit.flows.localize import as_text


def amount(value: float | None, unit: str = "", places: int = 1, *, missing: str = "–") -> Text:
    """A figure of an answer's JSON with its unit; ``missing`` where there is none.

    Examples
    --------
    >>> amount(0.7, "in", 3), amount(None, "psi")
    ('0.700 in', '–')
    """
    if value is None:
        return as_text(missing)
    return say("{figure}", figure=Figure(value, unit, places))


def rating(psi: float | None) -> Text:
    """A pressure that something bears: whole psi, rounded down, the same on every page.

    Examples
    --------
    >>> rating(166.9)
    '166 psi'
    """
    return amount(None) if psi is None else say("{figure}", figure=rating_figure(psi))


def load(psi: float | None) -> Text:
    """A pressure that something must bear: whole psi, rounded up, the same on every page.

    Examples
    --------
    >>> load(119.2)
    '120 psi'
    """
    return amount(None) if psi is None else say("{figure}", figure=load_figure(psi))


#: Facts that say what something must bear.
_LOADS = frozenset({"last.peak_psi", "last.surge_psi"})

#: Facts that say what something bears or is tested at.
_BORNE = frozenset({"parts.holds_psi", "test.pressure_psi", "weld.pressure_psi"})


def fact_figure(name: str, value: float) -> Figure | None:
    """A fact that was worked out, as the answer that taught it shows it; None of what was typed.

    Examples
    --------
    >>> str(fact_figure("tube.od_in", 0.70037)), str(fact_figure("test.pressure_psi", 30.567))
    ('0.700 in', '30 psi')
    >>> fact_figure("site.pressure_psi", 37.5) is None
    True
    """
    if name in _BORNE:
        return rating_figure(value)
    if name in _LOADS:
        return load_figure(value)
    return Figure(value, "in", 3) if name.endswith("_in") else None


def number(value: float) -> Text:
    """A number without a unit, with as many decimals as it has.

    Examples
    --------
    >>> number(1.5), number(2.0)
    ('1.5', '2')
    """
    return amount(value, places=len(f"{value:g}".partition(".")[2]))


def span(minutes: float) -> Text:
    """A length of time as a person says it.

    Examples
    --------
    >>> span(90)
    '1 h 30 min'
    """
    return Span(minutes).said


def dollars(cost: float | None) -> Text:
    """A price, or that there is none.

    Examples
    --------
    >>> dollars(1.5), dollars(None)
    ('$1.50', 'no price')
    """
    return say("no price") if cost is None else say("${cost}", cost=Figure(cost, "", 2))


def counted(count: int, name: str) -> Text:
    """So many of a part, as a list to buy names them."""
    return say("{count} × {name}", count=count, name=name)
