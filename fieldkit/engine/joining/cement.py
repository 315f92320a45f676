"""Set and cure of solvent cement: two published schedules side by side, the slower one rules.

Bands, as this tool reads them: 0 to 40 °F, over 40 to 60 °F, over 60 to 100 °F. An edge belongs
to the colder band (40.0 °F is 0–40, 60.0 °F is 40–60). Both ends of the printed table belong to
it: 0 °F and 100 °F are answered, colder or hotter is refused. Pressure: an edge belongs to the
lower band, as printed ("up to").
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Generic, TypeVar

from fieldkit.engine.problems import OutOfRange, require
from fieldkit.engine.words import Figure, say
from fieldkit.tables.joining import CureTimeRow, SetTimeRow, cure_times, set_times
from fieldkit.tables.pipes import ips_pvc, nominal_inches

#: Ends of the published schedules [°F], and the edges between their bands.
COLDEST_F = 0.0
HOTTEST_F = 100.0

#: Above this relative humidity both schedules take half again as long. [%]
DAMP_OVER_PCT = 60.0
DAMP_FACTOR = 1.5

#: Trade sizes to name when a size is not in both schedules.
TRADE_SIZES = (
    "1/2",
    "3/4",
    "1",
    "1-1/4",
    "1-1/2",
    "2",
    "2-1/2",
    "3",
    "4",
    "5",
    "6",
    "8",
    "10",
    "12",
    "16",
)

#: Outsides of metric PVC pipe that take a trade size of the schedules. Source: iso-161-1.
METRIC_MM = tuple(f"{mm} mm" for mm in (16, 20, 25, 32, 40, 50, 63, 75, 90, 110))

_SIZE = re.compile(r"(\d{1,2}-)?\d{1,2}/[1-9]\d?|\d{1,3}", re.ASCII)


Row = TypeVar("Row", SetTimeRow, CureTimeRow)


@dataclass(frozen=True, slots=True)
class Scheduled(Generic[Row]):
    """A time by the slower schedule, with the row of each and the one that rules. [min]"""

    minutes: float
    rows: tuple[Row, ...]
    rules: str
    factor: float

    @classmethod
    def of(cls, rows: tuple[Row, ...], factor: float) -> Scheduled[Row]:
        """The slowest of some rows, in air that takes ``factor`` times as long."""
        minutes = max(row.minutes for row in rows)
        rules = " and ".join(row.schedule for row in rows if row.minutes == minutes)
        return cls(minutes * factor, rows, rules, factor)


@lru_cache(maxsize=64)
def nominal_in(nominal: str) -> float:
    """A trade size as a number.

    Parameters
    ----------
    nominal : str
        Trade size as the tables write it: ``1/2``, ``1-1/4``, ``2``, ``25 mm``.

    Returns
    -------
    float
        Nominal size, not a measurement. [in]

    Raises
    ------
    OutOfRange
        It is not a trade size in inches, nor a metric one up to 110 mm.

    Source
    ------
    fieldkit-rule

    Examples
    --------
    >>> nominal_in("1-1/4"), nominal_in("1/2"), nominal_in("25 mm")
    (1.25, 0.5, 0.75)
    """
    if nominal in METRIC_MM:
        # Compared by the outside: the next larger pipe of the schedules, the slower side.
        outside = nominal_inches(nominal)
        sizes = [row for row in ips_pvc().values() if row.od_in >= outside]
        return nominal_inches(min(sizes, key=lambda row: row.od_in).nominal)
    if not _SIZE.fullmatch(nominal):
        raise _size_not_listed(nominal)
    return nominal_inches(nominal)


def _size_not_listed(nominal: str) -> OutOfRange:
    return OutOfRange(
        "pipe.nominal",
        nominal,
        say("The cement schedules do not list size {given}.", given=nominal),
        say(
            "They list these, in inches: {sizes}. Metric pipe: {metric}.",
            sizes=", ".join(TRADE_SIZES),
            metric=", ".join(METRIC_MM),
        ),
    )


def _check_temperature(temperature_f: float) -> None:
    require(temperature_f, "temperature", unit="°F", places=0)
    if temperature_f < COLDEST_F:
        raise OutOfRange(
            "temperature",
            temperature_f,
            say(
                "{given} is colder than the schedules, which stop at {limit}: no joint.",
                given=Figure(temperature_f, "°F", 1),
                limit=Figure(COLDEST_F, "°F"),
            ),
            say("Make the joint indoors and let it cure there, or use a fitting without cement."),
        )
    if temperature_f > HOTTEST_F:
        raise OutOfRange(
            "temperature",
            temperature_f,
            say(
                "{given} is hotter than the schedules, which stop at {limit}.",
                given=Figure(temperature_f, "°F", 1),
                limit=Figure(HOTTEST_F, "°F"),
            ),
            say("Shade the parts until they are cool, or cement early in the morning."),
        )


def damp_factor(humidity_pct: float) -> float:
    """How much longer cement takes in damp air.

    Parameters
    ----------
    humidity_pct : float
        Relative humidity, 0 to 100; 60 itself still counts as dry. [%]

    Returns
    -------
    float
        1 up to 60 %, 1.5 above it. [1]

    Raises
    ------
    OutOfRange
        Outside 0 to 100 %.

    Source
    ------
    cement-guide-b, and schedule A's guide says the same. Status: secondary.

    Examples
    --------
    >>> damp_factor(60.0), damp_factor(75.0)
    (1.0, 1.5)
    """
    require(humidity_pct, "humidity", at_least=0.0, at_most=100.0, unit="%", places=0)
    return DAMP_FACTOR if humidity_pct > DAMP_OVER_PCT else 1.0


def _listed(rows: tuple[Row, ...], nominal: str, warmest_f: float) -> tuple[Row, ...]:
    """The rows of both schedules for a size, in one band."""
    size_in = nominal_in(nominal)
    found = tuple(
        row
        for row in rows
        if row.warmest_f == warmest_f and row.smallest_in <= size_in <= (row.largest_in or size_in)
    )
    if len({row.schedule for row in found}) != 2:
        raise _size_not_listed(nominal)
    return found


@cache
def _set_rows(nominal: str, warmest_f: float) -> tuple[SetTimeRow, ...]:
    return _listed(set_times(), nominal, warmest_f)


@cache
def _cure_rows(nominal: str, warmest_f: float) -> tuple[CureTimeRow, ...]:
    return _listed(cure_times(), nominal, warmest_f)


@cache
def _warmest_of_bands() -> tuple[float, ...]:
    return tuple(sorted({row.warmest_f for row in set_times()}))


def band_of(temperature_f: float) -> tuple[float, float]:
    """The band of the schedules that a temperature falls in; an edge goes to the colder one.

    Parameters
    ----------
    temperature_f : float
        Temperature of the parts, 0 to 100. [°F]

    Returns
    -------
    tuple of float
        Coldest and warmest of the band. [°F]

    Raises
    ------
    OutOfRange
        Colder or hotter than the schedules.

    Source
    ------
    cement-guide-a and cement-guide-b for the bands; fieldkit-rule for the edges.

    Examples
    --------
    >>> band_of(40.0), band_of(60.1)
    ((0.0, 40.0), (60.0, 100.0))
    """
    _check_temperature(temperature_f)
    low = COLDEST_F
    for high in _warmest_of_bands():
        if temperature_f <= high:
            return low, high
        low = high
    raise AssertionError(temperature_f)  # the check above leaves no such temperature


def set_time(nominal: str, temperature_f: float, humidity_pct: float) -> Scheduled[SetTimeRow]:
    """Time from closing a cemented joint until it may be handled with care.

    Parameters
    ----------
    nominal : str
        Trade size of the pipe, ½ to 16 in; 3½ is not in both schedules.
    temperature_f : float
        Coldest temperature while it sets, 0 to 100. [°F]
    humidity_pct : float
        Relative humidity, 0 to 100. [%]

    Returns
    -------
    Scheduled
        Minutes by the slower of both schedules. [min]

    Raises
    ------
    OutOfRange
        Size, temperature or humidity is not in the schedules.

    Source
    ------
    cement-guide-a, cement-guide-b; fieldkit-rule: the slower rules. Status: secondary.

    Examples
    --------
    >>> set_time("1/2", 70.0, 50.0).minutes
    15.0
    """
    factor = damp_factor(humidity_pct)
    return Scheduled.of(_set_rows(nominal, band_of(temperature_f)[1]), factor)


def cure_time(
    nominal: str, temperature_f: float, humidity_pct: float, pressure_psi: float
) -> Scheduled[CureTimeRow]:
    """Time from closing the last cemented joint until it may see a pressure.

    Each schedule is read at its own pressure split (160 psi in A, 180 psi in B), and the slower
    of the two rules. Both must list the size and the pressure.

    Parameters
    ----------
    nominal : str
        Trade size of the pipe, ½ to 16 in; 3½ is not in both schedules.
    temperature_f : float
        Coldest temperature while it cures, 0 to 100. [°F]
    humidity_pct : float
        Relative humidity, 0 to 100. [%]
    pressure_psi : float
        Highest pressure it is to see, test included: up to 370 at ½ to 1¼ in, 315 to 8 in,
        100 above. [psi]

    Returns
    -------
    Scheduled
        Minutes by the slower of both schedules. [min]

    Raises
    ------
    OutOfRange
        Size, temperature, humidity or pressure is not in the schedules.

    Source
    ------
    cement-guide-a, cement-guide-b; fieldkit-rule: the slower rules. Status: secondary.

    Examples
    --------
    >>> cure_time("3/4", 70.0, 50.0, 100.0).minutes
    60.0
    >>> cure_time("2", 38.0, 75.0, 100.0).minutes
    1440.0
    """
    factor = damp_factor(humidity_pct)
    require(pressure_psi, "pressure", at_least=0.0, unit="psi", places=0)
    listed = _cure_rows(nominal, band_of(temperature_f)[1])
    limit = min(max(r.up_to_psi for r in listed if r.schedule == s) for s in ("A", "B"))
    if pressure_psi > limit:
        raise OutOfRange(
            "pressure",
            pressure_psi,
            say(
                "The schedules stop at {limit} for {size} in pipe; this is {given}.",
                limit=Figure(limit, "psi"),
                size=nominal,
                given=Figure(pressure_psi, "psi"),
            ),
            say("Give {limit} or less, or ask the cement’s maker.", limit=Figure(limit, "psi")),
        )
    rows = tuple(
        row
        for row in listed
        if row.over_psi < pressure_psi <= row.up_to_psi or pressure_psi == row.over_psi == 0
    )
    return Scheduled.of(rows, factor)
