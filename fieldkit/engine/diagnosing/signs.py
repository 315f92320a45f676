"""From a measured number to one of a question's options, by the engine's own calculations.

Each number is first put on a scale that the calculation of its joint lays down: the window a ring
takes, what a joint should hold when warm, the turns a thread needs, the cure a weld needed. The
options in ``question_options.csv`` are spans of that scale, so no limit is written twice.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache, partial

from fieldkit.engine.hydraulics.hold import HeldJoint, joint_limit
from fieldkit.engine.joining.cement import COLDEST_F, HOTTEST_F, cure_time
from fieldkit.engine.joining.thread import turns_allowed
from fieldkit.engine.problems import OutOfRange, require
from fieldkit.engine.words import Figure
from fieldkit.engine.working import Line, precise, worked
from fieldkit.tables.diagnosis import options, questions
from fieldkit.tables.fittings import FitWindow, fit_windows, made_right
from fieldkit.tables.threads import pairings, threads


@dataclass(frozen=True, slots=True)
class Setting:
    """What is known of the joint. A figure not known stands at its usual value."""

    joint: str = ""
    nominal: str = "3/4"
    thread_size: str = "3/4"
    temperature_f: float = 73.0
    cure_temperature_f: float = 70.0
    humidity_pct: float = 50.0
    pressure_psi: float = 60.0
    male: str = "plastic"
    female: str = "plastic"
    size: str = ""


@dataclass(frozen=True, slots=True)
class Scaled:
    """A number on its question's scale, and how it came there."""

    value: float
    lines: tuple[Line, ...] = ()


def window_position(gap_in: float, low_in: float, high_in: float) -> float:
    """Where a gap lies in the window that a fitting takes: −1 its low edge, +1 its high edge.

    Parameters
    ----------
    gap_in : float
        Measured size less the size of the fitting. [in]
    low_in, high_in : float
        Edges of the window, less the size of the fitting; low_in < high_in. [in]

    Returns
    -------
    float
        Position; past ±1 it does not fit. [1]

    Source
    ------
    fieldkit-rule

    Examples
    --------
    >>> window_position(-0.020, -0.008, 0.006) < -1, window_position(0.006, -0.008, 0.006)
    (True, 1.0)
    """
    middle, half = (low_in + high_in) / 2, (high_in - low_in) / 2
    return round((gap_in - middle) / half, 9)


@cache
def _usual_window(kind: str) -> FitWindow:
    """The window of the commonest size; all thin-tube sizes of a kind have the same allowance."""
    own = [w for w in fit_windows().values() if w.end_kind == kind and not w.thick_only]
    return next(w for w in own if w.size in ("0.700", "0.600"))


def _marked_in(window: FitWindow) -> float:
    """The size marked on the fitting; the middle of its window where it carries a trade size."""
    last = window.size.split()[-1]
    named = "." in last and "-" not in last
    return float(last) if named else (window.low_in + window.high_in) / 2


def _window(kind: str, gap_in: float, setting: Setting) -> Scaled:
    windows = {w.size: w for w in fit_windows().values() if w.end_kind == kind}
    window = windows.get(setting.size, _usual_window(kind))
    marked_in = _marked_in(window)
    low, high = window.low_in - marked_in, window.high_in - marked_in
    line = worked(
        "fit",
        gap_in,
        rests=window,
        gap=Figure(gap_in, "in", 3),
        low=Figure(low, "in", 3),
        high=Figure(high, "in", 3),
    )
    return Scaled(window_position(gap_in, low, high), (line,))


def _joint_ceiling(value: float, setting: Setting) -> Scaled:
    require(value, "static_psi", at_least=0.0, unit="psi", places=0)
    # A barb is held to its clamp: whether it has one is another question.
    row = made_right(setting.joint)
    try:
        limit = joint_limit(HeldJoint(row.id if row else "barb_clamped"), setting.temperature_f)
    except OutOfRange:  # hotter than any joint is rated for
        return Scaled(float("inf") if value else 0.0)
    line = worked(
        "share_of_hold",
        value / limit.hot_psi if limit.hot_psi else None,
        {
            "static": precise(value, "psi"),
            "ceiling": precise(limit.cool_psi, "psi"),
            "heat factor": precise(limit.factor),
        },
        rests=limit,
    )
    share = value / limit.hot_psi if limit.hot_psi else float("inf") if value else 0.0
    return Scaled(round(share, 9), (line,))


def _thread_limits(value: float, setting: Setting) -> Scaled:
    require(value, "turns_past_hand", at_least=0.0, unit="turns", places=1)
    pairing = pairings().get((setting.male, setting.female), pairings()["plastic", "plastic"])
    usual = threads()["npt-3/4"]
    least, most = turns_allowed(pairing, threads().get(f"npt-{setting.thread_size}", usual))
    line = worked(
        "turns_against_limits",
        value,
        rests=pairing,
        turns=Figure(value, "", 2),
        least=Figure(least, "", 2),
        most=Figure(most, "", 2),
    )
    # 1 is the least, 2 the most, and each further turn one more.
    if value < least:
        scaled = value / least
    else:
        scaled = 1 + (value - least) / (most - least) if value <= most else 2 + value - most
    return Scaled(round(scaled, 9), (line,))


def _cure_share(value: float, setting: Setting) -> Scaled:
    require(value, "hours_since_cement", at_least=0.0, unit="h", places=2)
    if setting.cure_temperature_f < COLDEST_F:  # cement does not cure there
        return Scaled(0.0)
    warm = min(setting.cure_temperature_f, HOTTEST_F)  # heat never counts as faster
    needed = cure_time(setting.nominal, warm, setting.humidity_pct, setting.pressure_psi)
    row = needed.rows[0]
    line = worked(
        "share_of_cure",
        value * 60 / needed.minutes,
        {
            "before pressure": precise(value, "h"),
            "cure": precise(needed.minutes / 60, "h"),
            "coldest": Figure(setting.cure_temperature_f, "°F"),
            "humidity": Figure(setting.humidity_pct, "%"),
        },
        rests=row,
    )
    return Scaled(round(value * 60 / needed.minutes, 9), (line,))


_SCALES: Mapping[str, Callable[[float, Setting], Scaled]] = {
    "as_read": lambda value, _: Scaled(value),
    "ring_window": partial(_window, "ring"),
    "barb_window": partial(_window, "barb"),
    "joint_ceiling": _joint_ceiling,
    "thread_limits": _thread_limits,
    "cure_share": _cure_share,
}


def option_for(question: str, value: float, setting: Setting) -> tuple[str, tuple[Line, ...]]:
    """The option that a number falls in, with the working.

    Parameters
    ----------
    question : str
        A question of kind number.
    value : float
        In the question's own unit: in, psi, turns, h or °F. [mixed]
    setting : Setting
        What is known of the joint.

    Returns
    -------
    tuple
        Option id, and the lines of working. [id]

    Raises
    ------
    OutOfRange
        Not a finite number, or outside what the calculation covers.

    Source
    ------
    fieldkit-rule for the spans; each calculation names its own.

    Examples
    --------
    >>> option_for("turns_past_hand", 3.5, Setting("npt_thread"))[0]
    'gt_3'
    >>> option_for("static_psi", 52.0, Setting("ring"))[0]
    '60_80'
    """
    require(value, question, unit=questions()[question].unit)
    scaled = _SCALES[questions()[question].measure](value, setting)
    found = next(option for option in options()[question] if option.holds(scaled.value))
    return found.option_id, scaled.lines
