"""The figures of a shut-in test: what heat, stretch and trapped air did to the gauge."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fieldkit.engine.pressure_test.line_stiffness import (
    Line,
    Restraint,
    Segment,
    line_of,
    lost_water_ml,
    pressure_after_heat,
    trapped_air_share,
)
from fieldkit.engine.pressure_test.makeup import ML_PER_GALLON, gasketed_makeup_gph
from fieldkit.engine.problems import Problem, require
from fieldkit.engine.words import say
from fieldkit.engine.working import Line as Working
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
    looked at the joints: without that nothing can be called tight.
    """

    segments: tuple[Segment, ...]
    restraint: Restraint
    readings: tuple[Reading, ...]
    visible_leak: bool
    gauge_division_psi: float
    pumped_ml: float | None = None
    expansion_phase: bool | None = None
    gasketed_joints: int = 0
    gasketed_diameter_in: float = 0.0
    looked: bool = True
    assumed: tuple[Working, ...] = ()


@dataclass(frozen=True, slots=True)
class HeldFigures:
    """The figures of a test, before anyone calls it tight or leaking."""

    line: Line
    start: Reading
    end: Reading
    minutes: float
    temperature_f: float
    swing_f: float | None
    expected_psi: float | None
    spread_psi: float
    unexplained_psi: float | None
    allowance_psi: float
    air: float | None
    leak_ml_min: float | None
    detectable_ml_min: float
    creeps: bool
    creep_low_psi: float
    creep_high_psi: float
    makeup_ml_min: float | None
    shape: str

    @property
    def fall_psi(self) -> float:
        return self.start.pressure_psi - self.end.pressure_psi


def creep_drop_psi(fresh: Line, crept: Line, pressure_psi: float, temperature_f: float) -> float:
    """Fall of pressure when the wall goes slack with no water lost.

    The stretch V (1/K + W) P stays as it is, so P falls in the ratio of the two gives.

    Parameters
    ----------
    fresh : Line
        The line with its modulus of the first minutes.
    crept : Line
        The same line with the modulus after hours.
    pressure_psi : float
        Gauge pressure at the start. [psi]
    temperature_f : float
        Water temperature. [°F]

    Returns
    -------
    float
        Fall of pressure. [psi]

    Source
    ------
    statics. Status: computed.
    """
    left = crept.stiffness_psi(temperature_f) / fresh.stiffness_psi(temperature_f)
    return pressure_psi * (1 - left)


def figures_of(test: HeldLine) -> HeldFigures:
    """Work out all that the verdict rests on.

    Raises
    ------
    Problem
        Fewer than two readings, no time between them, or no pipe.
    OutOfRange
        A pressure, temperature or size is outside what can be worked out.
    """
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
            require(
                reading.water_temperature_f,
                f"{which}.water_temperature",
                at_least=36.0,
                at_most=140.0,
                unit="°F",
                places=1,
            )
    start, end = test.readings[0], test.readings[-1]
    minutes = end.minutes - start.minutes
    require(start.pressure_psi, "start.pressure", above=0.0, unit="psi")
    require(minutes, "minutes", above=0.0, unit="min", places=0)
    require(test.gauge_division_psi, "gauge_division", above=0.0, unit="psi")

    line = line_of(test.segments, test.restraint)
    temperatures = [
        r.water_temperature_f for r in test.readings if r.water_temperature_f is not None
    ]
    known = start.water_temperature_f is not None and end.water_temperature_f is not None
    temperature = (
        sum(temperatures) / len(temperatures)
        if temperatures
        else proving_value("usual_temperature_f")
    )
    air = None
    if test.pumped_ml is not None:
        require(test.pumped_ml, "pumped", at_least=0.0, unit="mL")
        air = trapped_air_share(line, test.pumped_ml, start.pressure_psi, temperature)

    fall = start.pressure_psi - end.pressure_psi
    expected = unexplained = swing = None
    spread = 0.0
    if known:
        first, last = start.water_temperature_f, end.water_temperature_f
        assert first is not None  # noqa: S101  -- known says so, for mypy
        assert last is not None  # noqa: S101
        expected = (
            pressure_after_heat(line, start.pressure_psi, first, last, air or 0.0)
            - start.pressure_psi
        )
        unexplained = fall + expected
        # Readings between count too: water that warmed and cooled again was not steady.
        swing = max(temperatures) - min(temperatures)
        spread = abs(
            line.growth_half_width_per_f * (last - first) * line.stiffness_psi(temperature)
        )

    allowance = max(
        proving_value("gauge_divisions") * test.gauge_division_psi,
        proving_value("allowance_share") * start.pressure_psi,
    )
    creeps = any(segment.creeps for segment in test.segments)
    creep_low = creep_high = 0.0
    if creeps:
        allowance = max(allowance, proving_value("pe_share") * start.pressure_psi)
        creep_low, creep_high = (
            creep_drop_psi(line, slack, start.pressure_psi, temperature)
            for slack in (
                line_of(test.segments, test.restraint, "hours"),
                line_of(test.segments, test.restraint, "low"),
            )
        )

    def ml_per_min(drop: float) -> float:
        lost = lost_water_ml(line, start.pressure_psi, drop, temperature, air or 0.0)
        return lost / minutes

    makeup = None
    if test.gasketed_joints:
        mean = (start.pressure_psi + end.pressure_psi) / 2
        gallons = gasketed_makeup_gph(test.gasketed_joints, test.gasketed_diameter_in, mean)
        makeup = gallons * ML_PER_GALLON / 60
    return HeldFigures(
        line=line,
        start=start,
        end=end,
        minutes=minutes,
        temperature_f=temperature,
        swing_f=swing,
        expected_psi=expected,
        spread_psi=spread,
        unexplained_psi=unexplained,
        allowance_psi=allowance,
        air=air,
        leak_ml_min=None if unexplained is None else ml_per_min(max(unexplained, 0.0)),
        detectable_ml_min=ml_per_min(allowance),
        creeps=creeps,
        creep_low_psi=creep_low,
        creep_high_psi=creep_high,
        makeup_ml_min=makeup,
        shape=_shape(line, test.readings, allowance, air or 0.0),
    )


def _shape(line: Line, readings: Sequence[Reading], allowance_psi: float, air: float) -> str:
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
    if early is None or late is None or early + late <= allowance_psi / 2:
        return "unknown"
    if late / spans[1] < proving_value("settling_ratio") * early / spans[0]:
        return "settling"
    return "steady"


def _drop(line: Line, first: Reading, last: Reading, air: float) -> float | None:
    if first.water_temperature_f is None or last.water_temperature_f is None:
        return None
    tight = pressure_after_heat(
        line, first.pressure_psi, first.water_temperature_f, last.water_temperature_f, air
    )
    return tight - last.pressure_psi


def readings_with_expected(
    line: Line, readings: tuple[Reading, ...], air: float
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
