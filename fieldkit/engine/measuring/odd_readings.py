"""Readings that do not belong: pointed at, and never dropped in silence."""

from __future__ import annotations

import math
from dataclasses import dataclass

from fieldkit.engine.problems import OutOfRange, Problem
from fieldkit.engine.words import Figure, say
from fieldkit.tables.measuring import uncertainty

_MM_PER_INCH = 25.4


@dataclass(frozen=True, slots=True)
class OddReading:
    """One reading that stands off the others. ``number`` counts from 1, as a person does."""

    number: int
    reading_in: float
    off_by_in: float
    limit_in: float


def median(values: tuple[float, ...]) -> float:
    """The middle value, or the mean of the middle two.

    Parameters
    ----------
    values : tuple of float
        One or more values, all in one unit. [any]

    Returns
    -------
    float
        Median. [as the values]

    Source
    ------
    statics. Status: computed.

    Examples
    --------
    >>> median((3.0, 1.0, 2.0)), median((1.0, 2.0))
    (2.0, 1.5)
    """
    ordered = sorted(values)
    half = len(ordered) // 2
    if len(ordered) % 2:
        return ordered[half]
    return (ordered[half - 1] + ordered[half]) / 2


def distances_in(readings_in: tuple[float, ...]) -> tuple[float, ...]:
    """How far each reading stands from the median of all. [in]"""
    middle = median(readings_in)
    return tuple(abs(one - middle) for one in readings_in)


def odd_limit_in(readings_in: tuple[float, ...], noise_in: float) -> float:
    """How far from the median a reading may stand before it is pointed at.

    3.5 robust standard deviations: 1.4826 times the median distance from the median, and never
    less than the instrument's own scatter, or equal readings would make any other one odd.

    Parameters
    ----------
    readings_in : tuple of float
        The readings. [in]
    noise_in : float
        Least scatter believed of such readings, above 0. [in]

    Returns
    -------
    float
        Largest distance from the median. [in]

    Source
    ------
    iglewicz-hoaglin. Status: from memory.

    Examples
    --------
    >>> round(odd_limit_in((0.700, 0.702, 0.698, 0.752), 0.003), 4)
    0.0105
    """
    rules = uncertainty()
    scale = max(noise_in, rules["odd_scale"].value * median(distances_in(readings_in)))
    return rules["odd_score"].value * scale


def odd_readings(readings_in: tuple[float, ...], noise_in: float) -> tuple[OddReading, ...]:
    """The readings that stand off the others; with fewer than three, none can be told.

    Parameters
    ----------
    readings_in : tuple of float
        The readings, in the order they were taken. [in]
    noise_in : float
        Least scatter believed of such readings, above 0. [in]

    Returns
    -------
    tuple of OddReading
        Which, by how much, and the limit that it is over.

    Source
    ------
    iglewicz-hoaglin. Status: from memory.

    Examples
    --------
    >>> [odd.number for odd in odd_readings((0.700, 0.702, 0.698, 0.752), 0.003)]
    [4]
    """
    if len(readings_in) < 3:
        return ()
    middle = median(readings_in)
    limit = odd_limit_in(readings_in, noise_in)
    return tuple(
        OddReading(number, one, one - middle, limit)
        for number, one in enumerate(readings_in, start=1)
        if abs(one - middle) > limit
    )


def refuse_slips(readings_in: tuple[float, ...], largest_in: float, field: str) -> None:
    """Refuse a reading that was typed in another unit or with its point in another place.

    Such a slip is no scatter: the mean would be worthless. It is named, not left out.

    Parameters
    ----------
    readings_in : tuple of float
        The readings. [in]
    largest_in : float
        Largest reading that this tool has a pipe for. [in]
    field : str
        The request's key of the readings.

    Raises
    ------
    Problem
        One reading is about 25.4, 10 or 100 times the others, or the inverse.
    OutOfRange
        One is not above 0, or over ``largest_in``.

    Source
    ------
    fieldkit-rule. Status: common practice, no source.
    """
    for at, one in enumerate(readings_in):
        if not math.isfinite(one) or one <= 0:
            raise OutOfRange(
                f"{field}[{at}]",
                one if math.isfinite(one) else str(one),
                say("Reading {number} is not above 0.", number=at + 1),
                say("Measure it again, or leave it out."),
            )
    middle = median(readings_in) if len(readings_in) > 2 else min(readings_in)
    for at, one in enumerate(readings_in):
        _refuse_slip(one, middle, f"{field}[{at}]", at + 1)
    for at, one in enumerate(readings_in):
        if one > largest_in:
            raise OutOfRange(
                f"{field}[{at}]",
                one,
                say(
                    "Reading {number} is {given}, more than any pipe here: {limit}.",
                    number=at + 1,
                    given=Figure(one, "in", 3),
                    limit=Figure(largest_in, "in", 1),
                ),
                say("If it is millimeters, type {mm} mm.", mm=f"{one:.6g}")
                if _given_in_inches(one)
                else say("Look where the point stands, and type it again."),
            )


def _refuse_slip(reading_in: float, middle_in: float, field: str, number: int) -> None:
    share = uncertainty()["slip_share"].value
    for factor in (_MM_PER_INCH, 1 / _MM_PER_INCH, 10.0, 0.1, 100.0, 0.01):
        if abs(reading_in / middle_in / factor - 1) > share:
            continue
        if factor == _MM_PER_INCH and _given_in_inches(reading_in):
            instead = say("It looks like millimeters: type {mm} mm.", mm=f"{reading_in:.6g}")
        elif factor == 1 / _MM_PER_INCH:
            instead = say("Give all of them in one unit.")
        else:
            instead = say("Look where the point stands, and type it again.")
        raise Problem(
            field,
            reading_in,
            say(
                "Reading {number} is {given}, but the others are near {middle}.",
                number=number,
                given=Figure(reading_in, "in", 3),
                middle=Figure(middle_in, "in", 3),
            ),
            instead,
        )


def _given_in_inches(reading_in: float) -> bool:
    """Whether it has as few digits as a number that was typed; one from millimetres has not."""
    return float(f"{reading_in:.6g}") == reading_in
