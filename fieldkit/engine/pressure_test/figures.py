"""The figures of a shut-in test: what heat, stretch and trapped air did to the gauge."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fieldkit.engine.pressure_test.governing_rules import (
    GoverningRule,
    follows_polyethylene_rule,
    makeup_rule,
    polyethylene_rule,
)
from fieldkit.engine.pressure_test.leak_bound import (
    Conditions,
    LeakBound,
    PumpIn,
    ShownLeak,
    leak_bound,
)
from fieldkit.engine.pressure_test.line_stiffness import (
    Restraint,
    Segment,
    ShutInLine,
    line_of,
    pressure_after_heat,
)
from fieldkit.engine.pressure_test.makeup import ML_PER_GALLON, gasketed_makeup_gph
from fieldkit.engine.pressure_test.would_settle import Setting
from fieldkit.engine.problems import Problem, Refused, require
from fieldkit.engine.words import Figure, say
from fieldkit.engine.working import Line
from fieldkit.tables.proving_rules import proving_value


@dataclass(frozen=True, slots=True)
class Reading:
    """One look at the gauge; the temperature is of the water, None where nobody measured it."""

    minutes: float
    pressure_psi: float
    water_temperature_f: float | None = None


@dataclass(frozen=True, slots=True)
class LineReading:
    """A reading with what a tight line would show at its temperature."""

    minutes: float
    pressure_psi: float
    water_temperature_f: float | None
    expected_psi: float | None


@dataclass(frozen=True, slots=True)
class HeldLine:
    """All that a test was: the line, its readings, and what was seen and pumped.

    ``expansion_phase`` is whether a polyethylene line was topped up for its first hours and
    then let down, as its test method asks; None where nobody said. ``looked`` is whether anyone
    looked at the joints: without that nothing can be called tight. ``thermometer_step_f`` None
    is taken at its worst, as are air without a ``pump_in`` and the time since pumping.
    """

    segments: tuple[Segment, ...]
    restraint: Restraint
    readings: tuple[Reading, ...]
    visible_leak: bool
    gauge_division_psi: float
    thermometer_step_f: float | None = None
    minutes_since_pumped: float | None = None
    pump_in: PumpIn | None = None
    leak_that_matters_ml_min: float | None = None
    expansion_phase: bool | None = None
    gasketed_joints: int = 0
    gasketed_diameter_in: float = 0.0
    looked: bool = True
    assumed: tuple[Line, ...] = ()


@dataclass(frozen=True, slots=True)
class HeldFigures:
    """The figures of a test, before anyone calls it tight or leaking."""

    line: ShutInLine
    start: Reading
    end: Reading
    minutes: float
    temperature_f: float
    swing_f: float | None
    expected_psi: float | None
    unexplained_psi: float | None
    band_psi: float
    bound: LeakBound
    matters_ml_min: float
    shown: ShownLeak
    setting: Setting
    rules: tuple[GoverningRule, ...]
    makeup_ml_min: float | None
    shape: str

    @property
    def fall_psi(self) -> float:
        """By how much the gauge fell. [psi]"""
        return self.start.pressure_psi - self.end.pressure_psi

    @property
    def emptied(self) -> bool:
        """Whether the gauge fell so far that nothing it says can mean tight."""
        share, end = proving_value("emptied_share"), self.end.pressure_psi
        return end < share * self.start.pressure_psi or end <= self.setting.how.gauge_division_psi

    @property
    def steady(self) -> bool:
        """No more than a mark of the gauge and one of the thermometer: nothing to call a leak."""
        how, last = self.setting.how, self.end.water_temperature_f
        if how.thermometer_step_f is None or last is None:
            return False
        moved_f = abs(last - (self.start.water_temperature_f or 0.0))
        return (
            abs(self.fall_psi) <= how.gauge_division_psi + 1e-9
            and moved_f <= how.thermometer_step_f + 1e-9
        )


def refuse_freezing(temperature_f: float, field: str) -> None:
    """Refuse a test so cold that the water may freeze in the line.

    Raises
    ------
    Refused
        The temperature is under 40 °F.
    """
    least = proving_value("freezing_f")
    if temperature_f < least:
        raise Refused(
            field,
            temperature_f,
            say(
                "No test under {least}: water can freeze in the line and split it, and cold "
                "plastic breaks without warning.",
                least=Figure(least, "°F"),
            ),
            say("Wait for a warmer hour, and drain the line until then."),
        )


def figures_of(test: HeldLine) -> HeldFigures:
    """Work out all that the verdict rests on.

    Raises
    ------
    Problem
        Fewer than two readings, no time between them, or no pipe.
    OutOfRange
        A pressure, temperature or size is outside what can be worked out.
    Refused
        The water is close to freezing.
    """
    _check(test)
    start, end = test.readings[0], test.readings[-1]
    minutes = end.minutes - start.minutes
    measured = [r.water_temperature_f for r in test.readings if r.water_temperature_f is not None]
    usual = proving_value("usual_temperature_f")
    temperature = sum(measured) / len(measured) if measured else usual
    line = line_of(test.segments, test.restraint, temperature)
    first = last = temperature
    expected = swing = step = None
    if start.water_temperature_f is not None and end.water_temperature_f is not None:
        first, last = start.water_temperature_f, end.water_temperature_f
        # Readings between count too: water that warmed and cooled again was not steady.
        swing = max(measured) - min(measured)
        step = test.thermometer_step_f or proving_value("thermometer_step_f")
    how = Conditions(
        minutes=minutes,
        gauge_division_psi=test.gauge_division_psi,
        thermometer_step_f=step,
        minutes_since_pumped=_since_pumped(test),
        pump_in=test.pump_in,
    )
    pressures = (start.pressure_psi, end.pressure_psi)
    bound = leak_bound(line, pressures, (first, last), how)
    fall, unexplained = pressures[0] - pressures[1], None
    if swing is not None:
        air = bound.air_share or 0.0
        expected = pressure_after_heat(line, pressures[0], first, last, air) - pressures[0]
        unexplained = fall + expected - bound.stretch_psi
    makeup, rules = None, []
    if test.gasketed_joints:
        mean = sum(pressures) / 2
        gallons = gasketed_makeup_gph(test.gasketed_joints, test.gasketed_diameter_in, mean)
        makeup = gallons * ML_PER_GALLON / 60
        rules.append(
            makeup_rule(
                makeup, bound.best_ml_per_min, bound.lower_ml_per_min, bound.upper_ml_per_min
            )
        )
    if follows_polyethylene_rule(test.segments):
        rules.append(polyethylene_rule(pressures[0], max(fall, 0.0), minutes, test.expansion_phase))
    setting = Setting(
        line,
        sum(segment.length_ft for segment in test.segments),
        pressures[0],
        first,
        last - first,
        how,
    )
    matters = test.leak_that_matters_ml_min or proving_value("leak_that_matters_ml_min")
    band = bound.band_psi
    return HeldFigures(
        line=line,
        start=start,
        end=end,
        minutes=minutes,
        temperature_f=temperature,
        swing_f=swing,
        expected_psi=expected,
        unexplained_psi=unexplained,
        band_psi=band,
        bound=bound,
        matters_ml_min=matters,
        shown=setting.shown(),
        setting=setting,
        rules=tuple(rules),
        makeup_ml_min=makeup,
        shape=_shape(line, test.readings, band, bound.air_share or 0.0),
    )


def _check(test: HeldLine) -> None:
    if len(test.readings) < 2:
        raise Problem(
            "readings",
            len(test.readings),
            say("A test needs a reading at its start and one at its end."),
            say("Give two readings or more."),
        )
    for place, reading in enumerate(test.readings):
        which = {0: "start", len(test.readings) - 1: "end"}.get(place, "readings")
        require(reading.pressure_psi, f"{which}.pressure", at_least=0.0, at_most=1000.0, unit="psi")
        if reading.water_temperature_f is not None:
            field = f"{which}.water_temperature"
            require(reading.water_temperature_f, field, at_most=140.0, unit="°F", places=1)
            refuse_freezing(reading.water_temperature_f, field)
    minutes = test.readings[-1].minutes - test.readings[0].minutes
    require(test.readings[0].pressure_psi, "start.pressure", above=0.0, unit="psi")
    require(minutes, "minutes", above=0.0, unit="min", places=0)
    require(test.gauge_division_psi, "gauge_division", above=0.0, unit="psi")
    for given, field in (
        (test.thermometer_step_f, "thermometer_step"),
        (test.leak_that_matters_ml_min, "leak_that_matters"),
    ):
        if given is not None:
            require(given, field, above=0.0)


def _since_pumped(test: HeldLine) -> float | None:
    """Minutes at pressure before the first reading; topped up for hours where that was said."""
    if test.minutes_since_pumped is not None:
        require(test.minutes_since_pumped, "minutes_since_pumped", at_least=0.0, unit="min")
        return test.minutes_since_pumped
    return proving_value("pe_expansion_min") if test.expansion_phase else None


def _shape(line: ShutInLine, readings: Sequence[Reading], band_psi: float, air: float) -> str:
    """``settling`` where the fall has nearly stopped, ``steady`` where it goes on, else unknown.

    A leak slows only with the square root of the pressure; settling (creep, air going into the
    water, heat evening out) dies away. So the rates of the two halves tell them apart.
    """
    if len(readings) < 3:
        return "unknown"
    start, end = readings[0], readings[-1]
    half = (start.minutes + end.minutes) / 2
    middle = min(readings[1:-1], key=lambda reading: abs(reading.minutes - half))
    spans = (middle.minutes - start.minutes, end.minutes - middle.minutes)
    if min(spans) < (end.minutes - start.minutes) / 4:
        return "unknown"
    early, late = _drop(line, start, middle, air), _drop(line, middle, end, air)
    if early is None or late is None or early + late <= band_psi / 2:
        return "unknown"
    if late / spans[1] < proving_value("settling_ratio") * early / spans[0]:
        return "settling"
    return "steady"


def _drop(line: ShutInLine, first: Reading, last: Reading, air: float) -> float | None:
    if first.water_temperature_f is None or last.water_temperature_f is None:
        return None
    tight = pressure_after_heat(
        line, first.pressure_psi, first.water_temperature_f, last.water_temperature_f, air
    )
    return tight - last.pressure_psi


def readings_with_expected(
    line: ShutInLine, readings: tuple[Reading, ...], air: float
) -> tuple[LineReading, ...]:
    start = readings[0]

    def expected(reading: Reading) -> float | None:
        if start.water_temperature_f is None or reading.water_temperature_f is None:
            return None
        return pressure_after_heat(
            line, start.pressure_psi, start.water_temperature_f, reading.water_temperature_f, air
        )

    return tuple(
        LineReading(r.minutes, r.pressure_psi, r.water_temperature_f, expected(r)) for r in readings
    )
