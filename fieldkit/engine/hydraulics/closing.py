"""The surge of a valve that closes by its own curve, not evenly.

A valve in a line hardly slows the water until it is nearly shut, and then stops it in a small
part of its stroke: the surge is higher than that of a flow that falls evenly in the same time.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable
from functools import cache, lru_cache
from math import ceil, sqrt

from fieldkit.engine.problems import OutOfRange
from fieldkit.engine.words import say
from fieldkit.tables.hydraulics import figure, valve_closing

_GRAVITY, _FEET_PER_PSI = figure("gravity"), figure("feet_per_psi")

#: Times of the wave looked at before a closing counts as that slow, and points looked at in all.
_MOST_PHASES, _POINTS = 4_000, 8_000

#: Water slower than this does not knock. [ft/s]
_STILL = 1e-6


def valves() -> tuple[str, ...]:
    """The kinds of valve whose curve is known."""
    return tuple(valve_closing())


def openness(valve: str, open_share: float) -> float:
    """1/√K of a valve so far open: in proportion to the flow it passes at one head.

    Straight between the printed openings, and from the last of them down to 0 when shut.

    Parameters
    ----------
    valve : str
        One of ``valves()``.
    open_share : float
        How far open, 0 shut to 1. [1]

    Returns
    -------
    float
        0 when shut. [1]

    Source
    ------
    perry-valves. Status: secondary.

    Examples
    --------
    >>> round(openness("gate", 0.5) ** -2, 2), openness("gate", 0.0)
    (4.5, 0.0)
    """
    openings, passes = _curve(valve)
    end = bisect_left(openings, open_share, 1, len(openings) - 1)
    lower, below = passes[end - 1], openings[end - 1]
    return lower + (passes[end] - lower) * (open_share - below) / (openings[end] - below)


@cache
def _curve(valve: str) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """The openings from 0 up, and 1/√K at each."""
    rows = sorted(valve_closing()[valve], key=lambda row: row.open_share)
    return (0.0, *(row.open_share for row in rows)), (0.0, *(row.loss_k**-0.5 for row in rows))


def shutting(valve: str, velocity: float, static_psi: float) -> Callable[[float], float]:
    """Opening of the whole line as a valve in it shuts: τ of its share of the stroke.

    The line beyond the valve takes what the open valve leaves of the head, so
    τ = √[K_line + K_open] / √[K_line + K], with K_line + K_open = 2 g H / V².

    Parameters
    ----------
    valve : str
        One of ``valves()``.
    velocity : float
        Velocity in the pipe before, above 0. [ft/s]
    static_psi : float
        Pressure before the valve. [psi]

    Returns
    -------
    callable
        Open share of the stroke → τ, from 0 to 1.

    Source
    ------
    perry-valves, statics. Status: computed.
    """
    open_k = valve_closing()[valve][0].loss_k
    whole = max(2.0 * _GRAVITY * static_psi * _FEET_PER_PSI / velocity**2, open_k)

    def tau(open_share: float) -> float:
        passes = openness(valve, open_share) if open_share > 0.0 else 0.0
        return sqrt(whole / (whole - open_k + passes**-2)) if passes else 0.0

    return tau


@lru_cache(maxsize=64)  # the nearest change that works is found by asking again and again
def closing_surge_psi(
    valve: str,
    *,
    length_ft: float,
    wave_speed: float,
    velocity: float,
    static_psi: float,
    seconds: float,
) -> float:
    """Highest surge of a valve that moves evenly from open to shut, by Allievi's chain.

    ζ²(t) + ζ²(t − T) − 2 = 2 ρ [τ(t − T) ζ(t − T) − τ(t) ζ(t)] with ζ² = H/H₀, T = 2L/a and
    ρ = a V₀ / (2 g H₀): exact for one pipe from a large main, without friction.

    Parameters
    ----------
    valve : str
        One of ``valves()``.
    length_ft : float
        Length from the main to the valve, 0 or more. [ft]
    wave_speed : float
        Wave speed a, above 0. [ft/s]
    velocity : float
        Velocity that is stopped V₀, 0 or more. [ft/s]
    static_psi : float
        Pressure before H₀, 0 or more. [psi]
    seconds : float
        Time from open to shut, above 0. [s]

    Returns
    -------
    float
        Surge above the pressure before; never above the sudden stop's. [psi]

    Raises
    ------
    OutOfRange
        There is no such valve.

    Source
    ------
    allievi. Status: from memory; held to the method of characteristics.

    Examples
    --------
    >>> slow = dict(length_ft=200.0, wave_speed=1800.0, velocity=5.0, static_psi=50.0, seconds=2.0)
    >>> [round(closing_surge_psi(valve, **slow)) for valve in valves()]
    [102, 33, 104]
    """
    if valve not in valves():
        raise OutOfRange(
            "valve",
            valve,
            say("We have no closing curve of such a valve."),
            say("Choose one of: {names}.", names=", ".join(valves())),
        )
    period = 2.0 * length_ft / wave_speed
    sudden = wave_speed * velocity / (_FEET_PER_PSI * _GRAVITY)
    if period <= 0.0 or velocity < _STILL:
        return 0.0
    if seconds <= period:
        return sudden
    seconds = min(seconds, _MOST_PHASES * period)  # so slow that sooner is hardly worse
    tau = shutting(valve, velocity, static_psi)
    open_head = valve_closing()[valve][0].loss_k * velocity**2 / (2.0 * _GRAVITY)
    head = max(static_psi * _FEET_PER_PSI, open_head)
    rho = wave_speed * velocity / (2.0 * _GRAVITY * head)
    phases = ceil(seconds / period) + 1
    chains = max(2, min(40, _POINTS // phases))
    highest = 1.0
    for chain in range(chains):
        start = period * chain / chains
        zeta, opened = 1.0, 1.0
        for phase in range(phases + 1):
            now = tau(1.0 - (start + phase * period) / seconds)
            known = zeta * zeta - 2.0 - 2.0 * rho * opened * zeta
            squared = rho * rho * now * now - known
            zeta = sqrt(squared) - rho * now if squared > 0.0 else 0.0
            zeta, opened = (zeta if zeta > 0.0 else 0.0), now
            highest = max(highest, zeta * zeta)
    surge_psi = head * (highest - 1.0) / _FEET_PER_PSI
    return min(surge_psi, sudden)
