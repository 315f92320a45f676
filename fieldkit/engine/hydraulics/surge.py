"""The knock when moving water is stopped: wave speed, surge, how slow is slow enough.

A screening figure for one straight pipe. A system with pumps or long mains needs a proper
analysis by a qualified person.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from fieldkit.engine.cautions import caution
from fieldkit.engine.hydraulics.closing import closing_surge_psi, valves
from fieldkit.engine.problems import require
from fieldkit.engine.strength import load_figure
from fieldkit.engine.words import Figure, say
from fieldkit.engine.working import Answer, Line, precise, worked
from fieldkit.tables.hydraulics import figure

GRAVITY = figure("gravity")
FEET_PER_PSI = figure("feet_per_psi")
BULK_MODULUS_PSI = figure("surge_bulk_modulus")
DENSITY_SLUG_FT3 = figure("surge_density")
#: Speed of a pressure wave in water with rigid walls, by the customary K and density: 4,719 ft/s.
RIGID_WAVE_SPEED = math.sqrt(BULK_MODULUS_PSI * 144.0 / DENSITY_SLUG_FT3)


def wave_speed_ft_s(od_in: float, wall_in: float, modulus_psi: float) -> float:
    """Speed of a pressure wave in a pipe that stretches: a = c₀ / √(1 + (K/E)(D/t)).

    K = 300,000 psi by custom, and c₀ = √(K/ρ) = 4,719 ft/s from that same K. Handbooks also
    print 4,660, which does not follow from it and reads 1.3 % less surge.

    Parameters
    ----------
    od_in : float
        Outside diameter, above 0. [in]
    wall_in : float
        Wall; 0 < wall_in < od_in / 2. The bore D is ``od_in − 2 wall_in``. [in]
    modulus_psi : float
        Modulus of the wall for a quick load, above 0, from ``tables.materials``. [psi]

    Returns
    -------
    float
        Wave speed. [ft/s]

    Raises
    ------
    OutOfRange
        A value is outside the range given above.

    Source
    ------
    joukowsky; moser-folkman for K and density. Status: secondary.

    Examples
    --------
    >>> round(wave_speed_ft_s(18.0, 1.0, 400_000.0))
    1309
    """
    require(od_in, "pipe.od", above=0.0, unit="in")
    require(wall_in, "pipe.wall", above=0.0, below=od_in / 2, unit="in")
    require(modulus_psi, "pipe.modulus", above=0.0, unit="psi", places=0)
    bore_over_wall = (od_in - 2.0 * wall_in) / wall_in
    return RIGID_WAVE_SPEED / math.sqrt(1.0 + BULK_MODULUS_PSI / modulus_psi * bore_over_wall)


def joukowsky_psi(wave_speed: float, velocity_change: float) -> float:
    """Surge when the flow stops faster than the wave can return: ΔP = a ΔV / (2.31 g).

    Parameters
    ----------
    wave_speed : float
        Wave speed a. [ft/s]
    velocity_change : float
        How much the velocity changes, ΔV. [ft/s]

    Returns
    -------
    float
        Surge above the running pressure. [psi]

    Source
    ------
    joukowsky. Status: secondary.

    Examples
    --------
    >>> round(joukowsky_psi(1311.0, 7.0))
    123
    """
    return wave_speed * abs(velocity_change) / (FEET_PER_PSI * GRAVITY)


def critical_seconds(length_ft: float, wave_speed: float) -> float:
    """Time of the wave to the far end and back: 2L/a. A valve shut sooner gives full surge.

    Parameters
    ----------
    length_ft : float
        Length of pipe between the valve and the large main or tank. [ft]
    wave_speed : float
        Wave speed, above 0. [ft/s]

    Returns
    -------
    float
        Critical time. [s]

    Source
    ------
    joukowsky. Status: secondary.

    Examples
    --------
    >>> critical_seconds(500.0, 1000.0)
    1.0
    """
    return 2.0 * length_ft / wave_speed


def rigid_column_psi(length_ft: float, velocity_change: float, seconds: float) -> float:
    """Mean pressure that slows a column of water evenly: ρ L ΔV / t.

    Parameters
    ----------
    length_ft : float
        Length of the column. [ft]
    velocity_change : float
        ΔV. [ft/s]
    seconds : float
        Time of the closing, above 0. [s]

    Returns
    -------
    float
        Pressure. [psi]

    Source
    ------
    statics, Newton's second law. Status: computed.

    Examples
    --------
    >>> round(rigid_column_psi(100.0, 5.0, 1.0), 3)
    6.736
    """
    return DENSITY_SLUG_FT3 * length_ft * abs(velocity_change) / (144.0 * seconds)


def transmitted_share(
    bore_in: float, wave_speed: float, onward: tuple[tuple[float, float], ...]
) -> float:
    """Share of a wave that goes on past a joint: T = 2 (A₁/a₁) / Σ (A/a).

    Parameters
    ----------
    bore_in : float
        Bore of the pipe that the wave comes along, above 0. [in]
    wave_speed : float
        Wave speed in it, above 0. [ft/s]
    onward : tuple of (float, float)
        Bore [in] and wave speed [ft/s] of each pipe beyond the joint; none is a dead end.

    Returns
    -------
    float
        T, from 0 to 2; the reflected share is T − 1. [1]

    Source
    ------
    lingireddy-wood. Status: secondary.

    Examples
    --------
    >>> transmitted_share(1.0, 1000.0, ((2.0, 1000.0),))
    0.4
    """
    own = bore_in * bore_in / wave_speed
    return 2.0 * own / (own + sum(bore * bore / speed for bore, speed in onward))


@dataclass(frozen=True, kw_only=True, slots=True)
class SurgeAnswer(Answer):
    """Surge in one pipe, and what a joint into other pipes passes on."""

    wave_speed_ft_s: float
    surge_psi: float
    peak_psi: float
    critical_seconds: float | None
    full_surge_psi: float
    psi_per_ft_s: float
    rigid_column_psi: float | None
    transmitted_psi: float | None
    reflected_psi: float | None
    valve: str | None


def surge(
    *,
    od_in: float,
    wall_in: float,
    modulus_psi: float,
    velocity_change: float,
    static_psi: float,
    length_ft: float | None = None,
    closure_seconds: float | None = None,
    valve: str | None = None,
    onward: tuple[tuple[float, float], ...] = (),
    assumed: tuple[Line, ...] = (),
) -> SurgeAnswer:
    """Pressure at a valve that shuts, and at the joint beyond it.

    Parameters
    ----------
    od_in : float
        Outside diameter of the pipe. [in]
    wall_in : float
        Its wall. [in]
    modulus_psi : float
        Modulus of the wall for a quick load. [psi]
    velocity_change : float
        Velocity that is stopped, 0 or more. [ft/s]
    static_psi : float
        Pressure before, 0 or more. [psi]
    length_ft : float, optional
        Length of pipe from the valve to the main or tank. [ft]
    closure_seconds : float, optional
        How long the valve takes to shut; at once where not given. [s]
    valve : str, optional
        What kind of valve shuts, one of ``closing.valves()``; the worst of them where not told.
    onward : tuple of (float, float)
        Bore and wave speed of each pipe beyond a joint at the far end. [in, ft/s]
    assumed : tuple of Line
        Defaults that the caller filled in.

    Returns
    -------
    SurgeAnswer
        Surge and peak with their working. [psi]

    Raises
    ------
    OutOfRange
        A value is outside the range given above.

    Source
    ------
    joukowsky, allievi, perry-valves. Status: secondary.
    """
    require(velocity_change, "velocity_change", at_least=0.0, unit="ft/s")
    require(static_psi, "static_pressure", at_least=0.0, unit="psi", places=1)
    if length_ft is not None:
        require(length_ft, "length", at_least=0.0, unit="ft", places=1)
    if closure_seconds is not None:
        require(closure_seconds, "closure_seconds", at_least=0.0, unit="s")
    speed = wave_speed_ft_s(od_in, wall_in, modulus_psi)
    full = joukowsky_psi(speed, velocity_change)
    critical = None if length_ft is None else critical_seconds(length_ft, speed)
    slow = length_ft is not None and closure_seconds is not None and closure_seconds > 0.0
    rises, curve = full, ""
    rigid = None
    if slow:
        assert length_ft is not None  # noqa: S101  -- tested in ``slow``
        assert closure_seconds is not None  # noqa: S101
        curve, rises = _worst_closing(
            valve,
            length_ft=length_ft,
            wave_speed=speed,
            velocity=abs(velocity_change),
            static_psi=static_psi,
            seconds=closure_seconds,
        )
        rigid = rigid_column_psi(length_ft, velocity_change, closure_seconds)
    share = transmitted_share(od_in - 2 * wall_in, speed, onward) if onward else None
    return SurgeAnswer(
        verdict="slow" if rises < full else "full",
        headline=say(
            "Shutting adds {surge}, so the pipe sees {peak}.",
            surge=load_figure(rises),
            peak=load_figure(static_psi + rises),
        ),
        cautions=caution("surge_screen", "local_code"),
        working=(
            *assumed,
            _wave_line(od_in, wall_in, modulus_psi, speed),
            _sudden_line(speed, velocity_change, full),
            *_closing_working(length_ft, closure_seconds, speed, rises, curve),
            *_onward_working(od_in - 2 * wall_in, speed, onward, rises),
        ),
        wave_speed_ft_s=speed,
        surge_psi=rises,
        peak_psi=static_psi + rises,
        critical_seconds=critical,
        full_surge_psi=full,
        psi_per_ft_s=joukowsky_psi(speed, 1.0),
        rigid_column_psi=rigid,
        transmitted_psi=None if share is None else share * rises,
        reflected_psi=None if share is None else (share - 1.0) * rises,
        valve=curve or valve,
    )


def _worst_closing(valve: str | None, **closing: float) -> tuple[str, float]:
    """The valve and its surge; where none was told, the kind that is worst here."""
    surges = {one: closing_surge_psi(one, **closing) for one in ((valve,) if valve else valves())}
    worst = max(surges, key=lambda one: surges[one])
    return worst, surges[worst]


def _wave_line(od_in: float, wall_in: float, modulus_psi: float, speed: float) -> Line:
    return worked(
        "wave_speed",
        speed,
        K=Figure(BULK_MODULUS_PSI, "psi"),
        ρ=precise(DENSITY_SLUG_FT3, "slug/ft³"),
        E=Figure(modulus_psi, "psi"),
        D=precise(od_in - 2 * wall_in, "in"),
        t=precise(wall_in, "in"),
    )


def _sudden_line(speed: float, velocity_change: float, full: float) -> Line:
    return worked(
        "sudden_surge",
        full,
        a=precise(speed, "ft/s"),
        ΔV=precise(abs(velocity_change), "ft/s"),
        g=precise(GRAVITY, "ft/s²"),
    )


def _closing_working(
    length_ft: float | None,
    seconds: float | None,
    speed: float,
    rises: float,
    valve: str,
) -> tuple[Line, ...]:
    lines = []
    if length_ft is not None:
        lines.append(
            worked(
                "critical_time",
                critical_seconds(length_ft, speed),
                L=precise(length_ft, "ft"),
                a=precise(speed, "ft/s"),
            )
        )
    if length_ft is None or seconds is None:
        lines.append(worked("assumed_closing_time", "sudden"))
    else:
        lines.append(
            worked("closing_surge", rises, t=Figure(seconds, "s", 2), valve=valve or "sudden")
        )
    return tuple(lines)


def _onward_working(
    bore_in: float, speed: float, onward: tuple[tuple[float, float], ...], rises: float
) -> tuple[Line, ...]:
    if not onward:
        return ()
    return (
        worked(
            "wave_passed_on",
            transmitted_share(bore_in, speed, onward) * rises,
            d=precise(bore_in, "in"),
            a=precise(speed, "ft/s"),
            onward=precise(sum(bore * bore / own for bore, own in onward)),
            surge=precise(rises, "psi"),
        ),
    )
