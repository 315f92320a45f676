"""The leak that a shut-in test leaves possible: the likeliest, and a bound on either side.

What the line lost is its fall of pressure times its give, plus the water that heat pushed out,
less the room that a stretching wall made::

    q t / V = (P1 − P2) (1/K + W) + x Pa (1/P2 − 1/P1) + ∫ (β − γ) dT − S P D

with the share x of the line that was air when it was full at no pressure, the growth S of the
wall's give for a tenfold time, and the decades D of time under pressure. Pressures under a
fraction are absolute. Uncertainty by the GUM, first order. What nobody measured, air and the
time since pumping, is no spread: each bound takes it at its worst.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import NamedTuple

from fieldkit.engine.pressure_test.line_stiffness import ShutInLine, pressure_after_heat
from fieldkit.engine.problems import OutOfRange, require
from fieldkit.engine.water import water_at
from fieldkit.engine.words import Figure, Text, say
from fieldkit.engine.working import Line, precise, worked
from fieldkit.tables.proving_rules import proving_value

_RANKINE = 459.67
_ROOT_3, _ROOT_12 = math.sqrt(3), math.sqrt(12)


@dataclass(frozen=True, slots=True)
class PumpIn:
    """Water pumped into the full line, and the gauge before and after. [mL, psi]"""

    volume_ml: float
    low_psi: float
    high_psi: float


@dataclass(frozen=True, slots=True)
class Conditions:
    """How a test was read. None where nobody knows: each bound takes that at its worst.

    ``thermometer_step_f`` is None where the water was not measured at all.
    """

    minutes: float
    gauge_division_psi: float
    thermometer_step_f: float | None
    minutes_since_pumped: float | None = None
    pump_in: PumpIn | None = None


@dataclass(frozen=True, slots=True)
class Term:
    """One part of the uncertainty, as a leak: a standard uncertainty where ``spread``."""

    name: Text
    formula: str
    inputs: Mapping[str, object]
    ml_per_min: float
    spread: bool = True


@dataclass(frozen=True, slots=True)
class LeakBound:
    """The leak that fits best, its one-sided 95 % bounds, and what widens them, largest first.

    ``stretch_psi`` is what slow stretch explains; ``band_psi`` the spread of the readings as a
    change of the gauge, one-sided 95 %. ``strains`` are the sum behind the best; ``most`` and
    ``least`` the leak with its standard uncertainty that each bound starts from. [mL/min]
    """

    best_ml_per_min: float
    lower_ml_per_min: float
    upper_ml_per_min: float
    standard_ml_per_min: float
    stretch_psi: float
    band_psi: float
    air_share: float | None
    strains: Strains
    most: tuple[float, float]
    least: tuple[float, float]
    terms: tuple[Term, ...]

    @property
    def limited_by(self) -> Text:
        """What widens the bound most."""
        return self.terms[0].name


class _Ends(NamedTuple):
    """The readings that a test is judged by: start and end of each."""

    pressures_psi: tuple[float, float]
    temperatures_f: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Strains:
    """The balance as shares of the volume, for one share of air and one time of stretching."""

    give: float
    squeezed: float
    heat: float
    lost: float
    slack: float
    first_give: float
    last_give: float
    first_growth: float
    last_growth: float
    stretch: float


def air_from_pump_in(line: ShutInLine, pumped: PumpIn, temperature_f: float) -> float:
    """Share of the line that was air, from the water that raised its pressure.

    x = (pumped/V − (1/K + W) (P2 − P1)) / (Pa (1/P1 − 1/P2)), P absolute in the last bracket.

    Parameters
    ----------
    line : ShutInLine
        The line as one vessel.
    pumped : PumpIn
        Water pumped in, and the gauge before and after. [mL, psi]
    temperature_f : float
        Water temperature. [°F]

    Returns
    -------
    float
        Share of the volume; below 0 where the line took less than its wall and water should. [1]

    Raises
    ------
    OutOfRange
        A pressure or the volume is below 0, or the gauge did not rise.

    Source
    ------
    statics. Status: computed.
    """
    require(pumped.volume_ml, "pump_in.volume", above=0.0, unit="mL")
    require(pumped.low_psi, "pump_in.from", at_least=0.0, unit="psi")
    require(pumped.high_psi, "pump_in.to", above=pumped.low_psi, at_most=1000.0, unit="psi")
    spare = pumped.volume_ml / line.volume_ml - _give(line, temperature_f) * (
        pumped.high_psi - pumped.low_psi
    )
    return spare / _squeeze(pumped.high_psi, pumped.low_psi)


def lost_water_ml(
    line: ShutInLine, high_psi: float, drop_psi: float, temperature_f: float, air_share: float = 0.0
) -> float:
    """Water that left while the pressure fell by ``drop_psi`` at one temperature.

    V ΔP (1/K + W), and what trapped air pushed out as it grew: x V Pa (1/P2 − 1/P1), P absolute.

    Parameters
    ----------
    line : ShutInLine
        The line as one vessel.
    high_psi : float
        Gauge pressure before. [psi]
    drop_psi : float
        Fall of pressure, at most down to an empty gauge. [psi]
    temperature_f : float
        Water temperature. [°F]
    air_share : float
        Share of the line that was air when full at no pressure. [1]

    Returns
    -------
    float
        Water lost. [mL]

    Source
    ------
    statics. Status: computed.
    """
    own = drop_psi * _give(line, temperature_f)
    return line.volume_ml * (own + air_share * _squeeze(high_psi, high_psi - drop_psi))


def leak_bound(
    line: ShutInLine,
    pressures_psi: tuple[float, float],
    temperatures_f: tuple[float, float],
    how: Conditions,
) -> LeakBound:
    """The leak of a line that was shut in, with its bounds.

    Parameters
    ----------
    line : ShutInLine
        The line as one vessel.
    pressures_psi : tuple of float
        Gauge at start and end. [psi]
    temperatures_f : tuple of float
        Water at start and end; the same figure twice where it was not measured. [°F]
    how : Conditions
        Length of the hold, gauge, thermometer, time since pumping, water pumped in.

    Returns
    -------
    LeakBound
        Best, lower and upper; ``upper`` is never under what the readings alone may hide. [mL/min]

    Raises
    ------
    OutOfRange
        A figure of the pump-in, or a temperature, is outside what can be worked out.

    Source
    ------
    gum, statics, iapws-95; tolerances by slow_stretch.csv, materials.csv and proving_rules.csv.
    Status: from memory.
    """
    ends, mean_f = _Ends(pressures_psi, temperatures_f), sum(temperatures_f) / 2
    decades, worst_decades = _decades(how)
    measured, lowest, highest = None, 0.0, proving_value("unreported_air_share")
    if how.pump_in is not None:
        measured = air_from_pump_in(line, how.pump_in, mean_f)
        if measured < 0:  # stiffer than the tables say, and no air: the give is as measured
            line, measured = _as_stiff_as_measured(line, how.pump_in, mean_f), 0.0
        lowest = highest = measured
    likely = measured or 0.0
    scale = line.volume_ml / how.minutes
    factor = proving_value("coverage_95")

    def strains(air: float, for_decades: float) -> Strains:
        return _balance(line, ends, air, for_decades)

    def spread(found: Strains) -> tuple[tuple[Term, ...], float]:
        terms = _terms(line, ends, how, found, measured)
        return terms, math.sqrt(sum(term.ml_per_min**2 for term in terms))

    best = strains(likely, decades)
    uppers: list[tuple[float, float, tuple[Term, ...]]] = []
    lowers: list[tuple[float, float]] = []
    standard = spread(best)[1]
    for air in {lowest, highest}:
        most = strains(air, decades)
        terms, uncertainty = spread(most)
        uppers.append((max(0.0, most.lost * scale), uncertainty, terms))
        # Stretching takes nothing from the spread: the bound from below has the same.
        least = strains(air, worst_decades)
        lowers.append((least.lost * scale, uncertainty))
    by_bound = sorted(uppers, key=lambda one: one[0] + factor * one[1])
    *most_of, terms = by_bound[-1]
    upper, without_air = (leak + factor * u for leak, u, _ in (by_bound[-1], by_bound[0]))
    least_of = min(lowers, key=lambda one: one[0] - factor * one[1])
    unknown = []
    if measured is None:
        unknown.append(
            Term(
                say("air that nobody measured"),
                say("(with x − without) / k; the bound of either"),
                {
                    "x": Figure(highest * 100, "%"),
                    "with x": precise(upper, "mL/min"),
                    "without": precise(without_air, "mL/min"),
                    "k": precise(factor),
                },
                (upper - without_air) / factor,
                spread=False,
            )
        )
    if how.minutes_since_pumped is None and line.stretch_per_psi:
        unknown.append(
            Term(
                say("time at pressure that nobody told"),
                say("V S P D / (k t)"),
                {
                    "V": precise(line.volume_ml, "mL"),
                    "S": precise(line.stretch_per_psi, "1/psi"),
                    "P": precise(sum(pressures_psi) / 2, "psi"),
                    "D": precise(worst_decades),
                    "k": precise(factor),
                    "t": precise(how.minutes, "min"),
                },
                strains(likely, worst_decades).stretch * scale / factor,
                spread=False,
            )
        )
    if pressures_psi[1] <= how.gauge_division_psi:  # it may have run empty in its first minute
        upper *= max(1.0, how.minutes)
    return LeakBound(
        best_ml_per_min=best.lost * scale,
        lower_ml_per_min=least_of[0] - factor * least_of[1],
        upper_ml_per_min=upper,
        standard_ml_per_min=standard,
        stretch_psi=best.stretch / best.last_give,
        band_psi=factor * standard / scale / best.last_give,
        air_share=measured,
        strains=best,
        most=(most_of[0], most_of[1]),
        least=least_of,
        terms=tuple(sorted((*terms, *unknown), key=lambda term: -term.ml_per_min)),
    )


@dataclass(frozen=True, slots=True)
class ShownLeak:
    """The leak that a test would show: a sum of three, the last two unknown beforehand. [mL/min]

    ``bound`` is over a tight line's own reading, ``spread`` the one-sided 95 % of the readings,
    ``slow`` what stretching may hide.
    """

    bound: float
    spread: float
    slow: float
    limited_by: Text

    @property
    def ml_per_min(self) -> float:
        """Their sum."""
        return self.bound + self.spread + self.slow

    def line(self, **conditions: object) -> Line:
        """Its line of working, under the conditions of the test."""
        return worked(
            "smallest_leak_shown",
            self.ml_per_min,
            {
                "bound": precise(self.bound, "mL/min"),
                "spread": precise(self.spread, "mL/min"),
                "slow": precise(self.slow, "mL/min"),
                **conditions,
            },
        )


def shown_leak(
    line: ShutInLine, pressure_psi: float, temperature_f: float, change_f: float, how: Conditions
) -> ShownLeak:
    """The bound that a test yet to come would give a tight line, and what widens it most.

    Nineteen tight lines in twenty would be given this bound or less: twice the 95 % spread of
    the readings, and all that air and stretching unknown may add.

    Parameters
    ----------
    line : ShutInLine
        The line as one vessel.
    pressure_psi : float
        Test pressure. [psi]
    temperature_f : float
        Water temperature at the start. [°F]
    change_f : float
        Change of the water in the hold. [°F]
    how : Conditions
        As in ``leak_bound``; of a pump-in only the two pressures count.

    Returns
    -------
    ShownLeak
        Leak that the test would show, and the largest term. [mL/min]

    Source
    ------
    gum. Status: from memory.
    """
    last_f = min(max(temperature_f + change_f, 36.0), 140.0)
    if how.pump_in is not None:
        pumped = how.pump_in
        rise = pumped.high_psi - pumped.low_psi
        volume = line.volume_ml * rise * _give(line, (temperature_f + last_f) / 2)
        how = replace(how, pump_in=replace(pumped, volume_ml=volume))
    found_each = []
    for end_f in {last_f, min(max(temperature_f - change_f, 36.0), 140.0)}:
        tight = pressure_after_heat(line, pressure_psi, temperature_f, end_f)
        found = leak_bound(line, (pressure_psi, max(tight, 0.0)), (temperature_f, end_f), how)
        # The end pressure of a tight line whose stretch is known is lower by that stretch.
        readings = proving_value("coverage_95") * found.standard_ml_per_min
        stretch = next((t for t in found.terms if not t.spread and "S" in t.inputs), None)
        slow = 0.0 if stretch is None else stretch.ml_per_min * proving_value("coverage_95")
        over = found.upper_ml_per_min - max(0.0, found.best_ml_per_min)
        found_each.append(ShownLeak(over, readings, slow, found.limited_by))
    return max(found_each, key=lambda one: one.ml_per_min)


def at_most(ml_per_min: float) -> Figure:
    """A leak as a bound from above: rounded up, never less than it is.

    Examples
    --------
    >>> str(at_most(0.31)), str(at_most(0.002)), str(at_most(12.2))
    ('0.4 mL a minute', '0.1 mL a minute', '13 mL a minute')
    """
    places = 1 if ml_per_min <= 10 else 0
    size = 10.0**places
    return Figure(max(1, math.ceil(ml_per_min * size - 1e-9)) / size, "mL a minute", places)


def at_least(ml_per_min: float) -> Figure:
    """A leak as a bound from below: rounded down.

    Examples
    --------
    >>> str(at_least(0.39)), str(at_least(-1.0)), str(at_least(12.9))
    ('0.3 mL a minute', '0.0 mL a minute', '12 mL a minute')
    """
    places = 1 if ml_per_min < 10 else 0
    size = 10.0**places
    return Figure(math.floor(max(0.0, ml_per_min) * size + 1e-9) / size, "mL a minute", places)


def _decades(how: Conditions) -> tuple[float, float]:
    """Decades of stretching that the best estimate counts on, and the most there may be."""
    least = proving_value("worst_pump_min")
    if how.minutes_since_pumped is None:
        return 0.0, math.log10(1 + how.minutes / least)
    known = math.log10(1 + how.minutes / max(how.minutes_since_pumped, least))
    return known, known


def _as_stiff_as_measured(line: ShutInLine, pumped: PumpIn, temperature_f: float) -> ShutInLine:
    """The line with the give that the pump-in shows, where a pipe of its kind may be so stiff.

    Raises
    ------
    OutOfRange
        It took less water than such a pipe can: a leak would look smaller than it is.
    """
    rise = pumped.high_psi - pumped.low_psi
    own = pumped.volume_ml / line.volume_ml / rise - 1 / _bulk(temperature_f)
    least = line.wall_give_per_psi * (1 - 3 * line.give_share - proving_value("pump_in_share"))
    if own < least:
        expected = line.volume_ml * rise * _give(line, temperature_f)
        raise OutOfRange(
            "pump_in.volume",
            pumped.volume_ml,
            say(
                "{given} is too little: pipe and water alone take about {expected}.",
                given=Figure(pumped.volume_ml, "mL"),
                expected=Figure(expected, "mL"),
            ),
            say("Check the length and size of the line, and measure the water again, or leave it."),
        )
    return replace(line, wall_give_per_psi=own)


def _bulk(temperature_f: float) -> float:
    return water_at(temperature_f).bulk_modulus_psi


def _give(line: ShutInLine, temperature_f: float) -> float:
    """Give of wall and water, no air: 1/K + W. [1/psi]"""
    return 1 / _bulk(temperature_f) + line.wall_give_per_psi


def _squeeze(high_psi: float, low_psi: float) -> float:
    """By how much air of one unit at no pressure grows from high to low: Pa (1/P2 − 1/P1)."""
    outside = proving_value("atmosphere_psi")
    return outside * (1 / max(low_psi + outside, 0.5) - 1 / (high_psi + outside))


def _net_growth(line: ShutInLine, temperatures_f: tuple[float, float]) -> tuple[float, float]:
    """β − γ at start and end. [1/°F]"""
    first, last = (water_at(one).expansion_per_f for one in temperatures_f)
    return first - line.growth_per_f, last - line.growth_per_f


def _balance(line: ShutInLine, ends: _Ends, air: float, decades: float) -> Strains:
    (first, last), temperatures_f = ends
    mean_f, change_f = sum(temperatures_f) / 2, temperatures_f[1] - temperatures_f[0]
    outside = proving_value("atmosphere_psi")
    mean = max((first + last) / 2 + outside, 0.5)
    give = _give(line, mean_f)
    middle = water_at(mean_f).expansion_per_f - line.growth_per_f
    sides = _net_growth(line, temperatures_f)
    warm_air = air * outside / mean / (mean_f + _RANKINE)
    heat = change_f * ((sides[0] + 4 * middle + sides[1]) / 6 + warm_air)
    stretch = line.stretch_per_psi * (first + last) / 2 * decades
    squeezed = air * _squeeze(first, last)
    return Strains(
        give=give,
        squeezed=squeezed,
        heat=heat,
        lost=(first - last) * give + squeezed + heat - stretch,
        slack=(first - last) * line.wall_give_per_psi - stretch,
        first_give=give + air * outside / (first + outside) ** 2,
        last_give=give + air * outside / max(last + outside, 0.5) ** 2,
        first_growth=sides[0] + warm_air,
        last_growth=sides[1] + warm_air,
        stretch=stretch,
    )


def _terms(
    line: ShutInLine,
    ends: _Ends,
    how: Conditions,
    found: Strains,
    air: float | None,
) -> tuple[Term, ...]:
    """Each standard uncertainty as a leak; nothing in it is hidden in another. [mL/min]"""
    (first, last), (first_f, last_f) = ends
    scale, mean_psi = line.volume_ml / how.minutes, (first + last) / 2
    of = {"V": precise(line.volume_ml, "mL"), "t": precise(how.minutes, "min")}
    step, sigma_f = how.thermometer_step_f, proving_value("thermometer_sigma_f")
    one_f = proving_value("unknown_swing_f") / _ROOT_3 if step is None else step / _ROOT_12
    growth = math.hypot(found.first_growth, found.last_growth)
    division, give = how.gauge_division_psi, math.hypot(found.first_give, found.last_give)
    length, swell = proving_value("length_share"), line.growth_half_width_per_f
    terms = [
        Term(
            say("gauge"),
            "V/t · d/√12 · C",
            of | {"d": precise(division, "psi"), "C": precise(give, "1/psi")},
            scale * division / _ROOT_12 * give,
        ),
        Term(
            say("thermometer") if step is not None else say("water that nobody measured"),
            "V/t · √(s² + σ²) · G",
            of
            | {
                "s": precise(one_f, "°F"),
                "σ": precise(sigma_f, "°F"),
                "G": precise(growth, "1/°F"),
            },
            scale * math.hypot(one_f, sigma_f) * growth,
        ),
        Term(
            say("growth of the pipe with heat"),
            "V/t · g · |ΔT|/√3",
            of | {"g": precise(swell, "1/°F"), "ΔT": precise(last_f - first_f, "°F")},
            scale * swell * abs(last_f - first_f) / _ROOT_3,
        ),
        Term(
            say("length and bore of the line"),
            "|q| · a/√3",
            {"q": precise(found.lost * scale, "mL/min"), "a": precise(length)},
            abs(found.lost) * scale * length / _ROOT_3,
        ),
    ]
    decades, _ = _decades(how)
    slow = line.stretch_half_width_per_psi
    if decades and slow:
        terms.append(
            Term(
                say("slow stretch of the wall"),
                "V/t · S · P · D/√3",
                of
                | {
                    "S": precise(slow, "1/psi"),
                    "P": precise(mean_psi, "psi"),
                    "D": precise(decades),
                },
                scale * slow * mean_psi * decades / _ROOT_3,
            )
        )
    slack = found.slack
    if how.pump_in is not None and air is not None:
        pumped, rise = how.pump_in, how.pump_in.high_psi - how.pump_in.low_psi
        squeezed = _squeeze(first, last) / _squeeze(pumped.high_psi, pumped.low_psi)
        # With air, a stiffer wall means more of it; without, the give itself was measured.
        share = squeezed if air > 0 else (first - last) / rise
        slack -= line.wall_give_per_psi * rise * share
        read = division / _ROOT_12 * math.sqrt(2) / rise
        off = math.hypot(proving_value("pump_in_share") / _ROOT_3, read)
        terms.append(
            Term(
                say("water pumped in"),
                "v · |r| · p / t",
                {"v": precise(pumped.volume_ml, "mL"), "r": precise(share), "p": precise(off)}
                | {"t": of["t"]},
                pumped.volume_ml * abs(share) * off / how.minutes,
            )
        )
    terms.append(
        Term(
            say("stiffness and wall of the pipe"),
            "V/t · |w| · e",
            of | {"w": precise(slack), "e": precise(line.give_share)},
            scale * abs(slack) * line.give_share,
        )
    )
    return tuple(terms)
