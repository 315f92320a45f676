"""What would make a pressure test tell: each change tried on the same sum, with its result."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from fieldkit.engine.pressure_test.leak_bound import Conditions, PumpIn, ShownLeak, shown_leak
from fieldkit.engine.pressure_test.line_stiffness import ShutInLine
from fieldkit.engine.words import Figure, Span, Text, say
from fieldkit.tables.proving_rules import proving_value

_HOLDS_MIN = (15.0, 30.0, 60.0, 120.0, 240.0, 480.0)
_STEPS_F = (1.0, 0.5, 0.2, 0.1)
_DIVISIONS_PSI = (2.0, 1.0, 0.5, 0.2, 0.1)


@dataclass(frozen=True, slots=True)
class Change:
    """One change to the test, and the leak that the line would then show. [mL/min]"""

    change: str
    what: Text
    shows_ml_per_min: float


@dataclass(frozen=True, slots=True)
class Setting:
    """A test as it was or will be: the line, its pressure and water, and how it is read."""

    line: ShutInLine
    length_ft: float
    pressure_psi: float
    temperature_f: float
    change_f: float
    how: Conditions

    def shows(self) -> float:
        """The bound that this test would give a tight line. [mL/min]"""
        return self.shown().ml_per_min

    def shown(self) -> ShownLeak:
        """The same with what makes it up, and what widens it most."""
        return shown_leak(self.line, self.pressure_psi, self.temperature_f, self.change_f, self.how)


def would_settle(now: Setting, matters_ml_min: float) -> tuple[Change, ...]:
    """The changes each of which brings the bound under the leak that matters.

    Where none does by itself: all of them together, or the line in shorter parts.

    Parameters
    ----------
    now : Setting
        The test that could not tell.
    matters_ml_min : float
        The leak that must show. [mL/min]

    Returns
    -------
    tuple of Change
        Each with the leak that it would show; none where the test itself suffices. [mL/min]

    Source
    ------
    gum. Status: from memory.
    """
    if now.how.thermometer_step_f is not None and now.shows() <= matters_ml_min:
        return ()
    found: dict[str, Change] = {}
    for change, what, after in _ladder(now):
        if change not in found and (shows := after.shows()) <= matters_ml_min:
            found[change] = Change(change, what, shows)
    if found:
        return tuple(found.values())
    best = _all_at_once(now)
    shows = best.shows()
    together = say(
        "Hold it for {hold}, read to {step} and {division}, keep the water within {change} and "
        "measure the water pumped in.",
        hold=Span(best.how.minutes),
        step=_mark(best.how.thermometer_step_f or 0.0, "°F"),
        division=_mark(best.how.gauge_division_psi, "psi"),
        change=Figure(proving_value("swing_buried_f"), "°F"),
    )
    if shows <= matters_ml_min:
        return (Change("together", together, shows),)
    # Every term grows with the volume, so a shorter line shows as much less.
    part = now.length_ft * matters_ml_min / shows * 0.98
    return (
        Change(
            "sections",
            say(
                "Test it in parts of {length} or less, each with all of this: {all}",
                length=Figure(part, "ft"),
                all=together,
            ),
            matters_ml_min,
        ),
    )


def _ladder(now: Setting) -> Iterator[tuple[str, Text, Setting]]:
    """Each change by itself, the smallest first."""
    how = now.how
    step = how.thermometer_step_f
    measured = now
    if step is None:
        step = proving_value("thermometer_step_f") * 2
        measured = replace(
            now, how=replace(how, thermometer_step_f=proving_value("thermometer_step_f"))
        )
    for finer in (proving_value("thermometer_step_f"), *_STEPS_F):
        if finer < step:
            yield (
                "thermometer",
                say("Measure the water to {step}.", step=_mark(finer, "°F")),
                replace(now, how=replace(how, thermometer_step_f=finer)),
            )
    if how.thermometer_step_f is None:  # nothing else helps without
        return
    for minutes in _HOLDS_MIN:
        change_f = now.change_f * minutes / how.minutes
        if minutes > how.minutes and abs(change_f) <= proving_value("swing_f"):
            yield (
                "hold",
                say("Hold it for {hold}.", hold=Span(minutes)),
                replace(now, change_f=change_f, how=replace(how, minutes=minutes)),
            )
    steady = proving_value("swing_buried_f")
    if abs(now.change_f) > steady:
        yield (
            "hour",
            say(
                "Test early, late or in shade, so that the water stays within {change}.",
                change=Figure(steady, "°F"),
            ),
            replace(now, change_f=steady),
        )
    if how.pump_in is None:
        yield (
            "pump_in",
            say(
                "Measure the water that takes the full line from 0 to {pressure}.",
                pressure=Figure(now.pressure_psi, "psi"),
            ),
            replace(now, how=replace(how, pump_in=_pump_in(now))),
        )
    if how.minutes_since_pumped is None:
        settle = proving_value("settle_min")
        yield (
            "settle",
            say("Let it stand at pressure for {settle} first, and say so.", settle=Span(settle)),
            replace(now, how=replace(how, minutes_since_pumped=settle)),
        )
    for division in _DIVISIONS_PSI:
        if division < how.gauge_division_psi:
            yield (
                "gauge",
                say("Use a gauge with marks of {division}.", division=_mark(division, "psi")),
                replace(measured, how=replace(how, gauge_division_psi=division)),
            )


def _mark(size: float, unit: str) -> Figure:
    """A mark of an instrument: whole where it is."""
    return Figure(size, unit, 0 if float(size).is_integer() else 1)


def _pump_in(now: Setting) -> PumpIn:
    return PumpIn(1.0, 0.0, max(now.pressure_psi, 1.0))


def _all_at_once(now: Setting) -> Setting:
    """The longest hold, the finest instruments that a crew has, the quietest hour."""
    how = now.how
    return replace(
        now,
        change_f=min(abs(now.change_f), proving_value("swing_buried_f")),
        how=Conditions(
            minutes=max(how.minutes, 240.0),
            gauge_division_psi=min(how.gauge_division_psi, 0.5),
            thermometer_step_f=min(how.thermometer_step_f or 0.5, 0.5),
            minutes_since_pumped=how.minutes_since_pumped or proving_value("settle_min"),
            pump_in=how.pump_in or _pump_in(now),
        ),
    )
