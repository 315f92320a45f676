"""Set and cure over a forecast: by the coldest hour met, as published, and by shares, as ours."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from fieldkit.engine.joining.cement import COLDEST_F, HOTTEST_F
from fieldkit.engine.problems import Problem, require
from fieldkit.engine.words import say


@dataclass(frozen=True, slots=True)
class Spell:
    """From so many minutes after the joint was closed, it is so warm, until the next spell."""

    from_minutes: float
    temperature_f: float


@dataclass(frozen=True, slots=True)
class Elapsed:
    """When the shares add up to one.

    ``minutes`` is None when the forecast ends first; ``share`` is what was reached by then, and
    ``minutes_if_coldest`` the whole time if the coldest of the forecast lasted after its end.
    """

    minutes: float | None
    share: float
    minutes_if_coldest: float


def check_spells(spells: Sequence[Spell], until_minutes: float) -> None:
    """Hold a forecast to a start at or before the joint, one row after another.

    Parameters
    ----------
    spells : sequence of Spell
        The forecast. [min, °F]
    until_minutes : float
        How far it reaches after the joint was closed, above its last row. [min]

    Raises
    ------
    Problem
        It is empty, starts late, or its rows are not in order.
    OutOfRange
        A number is not finite, or the forecast ends before its last row.

    Source
    ------
    fieldkit-rule

    Examples
    --------
    >>> check_spells([Spell(0.0, 60.0), Spell(360.0, 45.0)], 1800.0)
    """
    if not spells or spells[0].from_minutes > 0:
        raise Problem(
            "forecast",
            None,
            say("The forecast says nothing about the time when the joint was made."),
            say("Start it at that time or before."),
        )
    for i, spell in enumerate(spells):
        require(spell.temperature_f, f"forecast[{i}].temperature", unit="°F")
        require(spell.from_minutes, f"forecast[{i}].from", unit="min")
    for i, (one, after) in enumerate(pairwise(spells), start=1):
        if after.from_minutes <= one.from_minutes:
            raise Problem(
                f"forecast[{i}].from",
                None,
                say("This row does not come after the one before it."),
                say("Put the forecast in order of time."),
            )
    require(until_minutes, "forecast_until", above=max(0.0, spells[-1].from_minutes), unit="min")


def elapsed(
    needed_minutes: Callable[[float], float], spells: Sequence[Spell], until_minutes: float
) -> Elapsed:
    """Time until the shares of a changing temperature add up to one.

    Share of a spell = its length / the time needed at its temperature. Below the schedules no
    share counts: cement does not cure there. Above them the hottest band counts: heat never
    shortens it further.

    Parameters
    ----------
    needed_minutes : callable
        Time needed at a steady temperature within the schedules. [min at °F]
    spells : sequence of Spell
        The forecast, its first row at or before the joint. [min, °F]
    until_minutes : float
        How far the forecast reaches after the joint was closed. [min]

    Returns
    -------
    Elapsed
        Minutes from the joint, or None and the share reached. [min, 1]

    Raises
    ------
    Problem
        The forecast is empty, starts late or is out of order.
    OutOfRange
        A number is not finite, or the forecast ends before its last row.

    Source
    ------
    fieldkit-rule: linear shares. The published rule is the coldest temperature alone.

    Examples
    --------
    Half of one hour's need is met in 30 min; the rest takes half of eight hours.

    >>> elapsed(lambda f: 60.0 if f > 40 else 480.0, [Spell(0, 70), Spell(30, 35)], 1440).minutes
    270.0
    """
    check_spells(spells, until_minutes)
    share = 0.0
    ends = (*(spell.from_minutes for spell in spells[1:]), until_minutes)
    for spell, end in zip(spells, ends, strict=True):
        start = max(0.0, spell.from_minutes)
        if end <= start or spell.temperature_f < COLDEST_F:
            continue
        needed = needed_minutes(min(spell.temperature_f, HOTTEST_F))
        missing = (1.0 - share) * needed
        if missing <= end - start:
            return Elapsed(start + missing, 1.0, start + missing)
        share += (end - start) / needed
    slowest = needed_minutes(min(max(coldest_f(spells), COLDEST_F), HOTTEST_F))
    return Elapsed(None, share, until_minutes + (1.0 - share) * slowest)


def by_coldest(
    needed_minutes: Callable[[float], float],
    spells: Sequence[Spell],
    until_minutes: float,
    made_f: float,
) -> Elapsed:
    """Time by the published rule: the time needed at the coldest temperature met so far.

    A cold hour counts once it comes before the joint is ready. Cement does not cure below the
    schedules, so after such a spell the coldest band is counted anew from its end.

    Parameters
    ----------
    needed_minutes : callable
        Time needed at a steady temperature within the schedules. [min at °F]
    spells : sequence of Spell
        The forecast, its first row at or before the joint. [min, °F]
    until_minutes : float
        How far the forecast reaches after the joint was closed. [min]
    made_f : float
        Temperature of the parts when the joint was closed. [°F]

    Returns
    -------
    Elapsed
        Minutes from the joint, or None and the share reached. [min, 1]

    Raises
    ------
    Problem
        The forecast is empty, starts late or is out of order.
    OutOfRange
        A number is not finite, or the forecast ends before its last row.

    Source
    ------
    cement-guide-b: look up by the lowest temperature of assembly and cure. Status: secondary.

    Examples
    --------
    >>> need = lambda f: 60.0 if f > 40 else 480.0
    >>> by_coldest(need, [Spell(0, 70), Spell(30, 35)], 1440, 70.0).minutes
    480.0
    >>> by_coldest(need, [Spell(0, 70), Spell(90, 35)], 1440, 70.0).minutes
    60.0
    """
    check_spells(spells, until_minutes)
    begun, coldest = 0.0, min(made_f, HOTTEST_F)
    ends = (*(spell.from_minutes for spell in spells[1:]), until_minutes)
    for spell, end in zip(spells, ends, strict=True):
        if end <= max(0.0, spell.from_minutes):
            continue
        if spell.temperature_f < COLDEST_F:
            begun, coldest = end, COLDEST_F
            continue
        coldest = min(coldest, spell.temperature_f)
        ready = begun + needed_minutes(coldest)
        if ready <= end:
            return Elapsed(ready, 1.0, ready)
    needed = needed_minutes(coldest)
    return Elapsed(None, max(0.0, until_minutes - begun) / needed, begun + needed)


def slower(one: Elapsed, other: Elapsed) -> Elapsed:
    """The one that is ready later, with the lesser share of both."""
    reached = one.minutes is not None and other.minutes is not None
    last = max(one.minutes_if_coldest, other.minutes_if_coldest)
    return Elapsed(last if reached else None, min(one.share, other.share), last)


def at_start(spells: Sequence[Spell]) -> Spell:
    """The spell in which the joint is closed: the last that begins at or before it."""
    return [spell for spell in spells if spell.from_minutes <= 0][-1]


def coldest_f(spells: Sequence[Spell]) -> float:
    """The coldest temperature from the joint on. [°F]"""
    start = at_start(spells)
    return min(spell.temperature_f for spell in spells if spell.from_minutes >= start.from_minutes)


def out_of_table(spells: Sequence[Spell]) -> tuple[bool, bool]:
    """Whether some of it is colder, and some hotter, than the schedules."""
    return (
        any(spell.temperature_f < COLDEST_F for spell in spells),
        any(spell.temperature_f > HOTTEST_F for spell in spells),
    )
