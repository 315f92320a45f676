"""The formulas of steady flow in a pipe: velocity, friction factor, loss, barbs."""

from __future__ import annotations

import math
from math import log10, pow

from fieldkit.engine.problems import require
from fieldkit.tables.hydraulics import figure

M_PER_FT = 0.3048
M_PER_IN = 0.0254
KG_M3_PER_LB_FT3 = 16.018463
IN2_PER_FT2 = 144.0

FLOW_CONSTANT = figure("flow_constant")
GRAVITY = figure("gravity")
HW_CONSTANT = figure("hw_constant")
HW_FLOW_POWER = figure("hw_flow_power")
HW_BORE_POWER = figure("hw_bore_power")
LAMINAR_BELOW = figure("laminar_below")
TURBULENT_ABOVE = figure("turbulent_above")

#: Reynolds number × viscosity [m²/s] for 1 gpm through a bore of 1 in.
_REYNOLDS_CONSTANT = FLOW_CONSTANT * M_PER_FT * M_PER_IN


def velocity_ft_s(flow_gpm: float, bore_in: float) -> float:
    """Mean speed of the water: flow over the area of a round bore.

    Parameters
    ----------
    flow_gpm : float
        Flow, 0 or more. [gpm]
    bore_in : float
        Inside diameter, above 0. [in]

    Returns
    -------
    float
        Mean velocity. [ft/s]

    Source
    ------
    statics, continuity. Status: computed.

    Examples
    --------
    >>> round(velocity_ft_s(10.0, 1.049), 2)
    3.71
    """
    return FLOW_CONSTANT * flow_gpm / (bore_in * bore_in)


def reynolds_number(flow_gpm: float, bore_in: float, viscosity_m2_s: float) -> float:
    """Inertia of the flow against its stickiness: Re = V D / ν.

    Parameters
    ----------
    flow_gpm : float
        Flow, 0 or more. [gpm]
    bore_in : float
        Inside diameter, above 0. [in]
    viscosity_m2_s : float
        Kinematic viscosity, above 0, from ``engine.water``. [m²/s]

    Returns
    -------
    float
        Reynolds number. [1]

    Source
    ------
    darcy-weisbach. Status: secondary.

    Examples
    --------
    >>> round(reynolds_number(10.0, 1.049, 1.0e-6))
    30148
    """
    return _REYNOLDS_CONSTANT * flow_gpm / (bore_in * viscosity_m2_s)


def regime(reynolds: float) -> str:
    """How the water moves: laminar, transition (either may happen) or turbulent.

    Parameters
    ----------
    reynolds : float
        Reynolds number. [1]

    Returns
    -------
    str
        The regime's name.

    Source
    ------
    darcy-weisbach. Status: secondary.

    Examples
    --------
    >>> regime(1000.0), regime(3000.0), regime(1e5)
    ('laminar', 'transition', 'turbulent')
    """
    if reynolds < LAMINAR_BELOW:
        return "laminar"
    return "transition" if reynolds <= TURBULENT_ABOVE else "turbulent"


def friction_factor(reynolds: float, relative_roughness: float) -> float:
    """Darcy friction factor, explicit: 64/Re, then Serghides' solution of Colebrook.

    Serghides takes three steps of Colebrook's fixed point and one of Steffensen's: within
    0.01 % of Colebrook itself. Between laminar and turbulent the turbulent factor is used,
    the larger one, so that a line is never called longer than it may be.

    Parameters
    ----------
    reynolds : float
        Reynolds number, above 0. [1]
    relative_roughness : float
        Wall roughness over bore, 0 to 0.05. [1]

    Returns
    -------
    float
        Darcy (not Fanning) friction factor. [1]

    Raises
    ------
    OutOfRange
        A value is outside the range given above.

    Source
    ------
    serghides-1984, for colebrook. Status: from memory.

    Examples
    --------
    >>> round(friction_factor(1000.0, 0.0), 3), round(friction_factor(1e5, 0.0), 4)
    (0.064, 0.018)
    """
    # Plain comparisons first: this runs once a pipe piece, and ``require`` writes sentences.
    if not (0.0 < reynolds < math.inf and 0.0 <= relative_roughness <= 0.05):
        require(reynolds, "reynolds", above=0.0)
        require(relative_roughness, "roughness", at_least=0.0, at_most=0.05)
    if reynolds < LAMINAR_BELOW:
        return 64.0 / reynolds
    rough = relative_roughness / 3.7
    smooth = 2.51 / reynolds
    a = -2.0 * log10(rough + 12.0 / reynolds)
    b = -2.0 * log10(rough + smooth * a)
    c = -2.0 * log10(rough + smooth * b)
    bend = c - 2.0 * b + a
    # At a very high Reynolds number the three are one, and there is nothing left to improve.
    root = a - (b - a) * (b - a) / bend if bend else c
    return 1.0 / (root * root)


def darcy_loss_ft_per_100ft(factor: float, bore_in: float, velocity: float) -> float:
    """Head that 100 ft of straight pipe take: f (L/D) V² / 2g.

    Parameters
    ----------
    factor : float
        Darcy friction factor. [1]
    bore_in : float
        Inside diameter, above 0. [in]
    velocity : float
        Mean velocity. [ft/s]

    Returns
    -------
    float
        Head loss. [ft per 100 ft]

    Source
    ------
    darcy-weisbach. Status: secondary.

    Examples
    --------
    >>> round(darcy_loss_ft_per_100ft(0.0235, 1.049, 3.71), 2)
    5.75
    """
    return factor * 1200.0 / bore_in * velocity * velocity / (2.0 * GRAVITY)


def hazen_williams_loss_ft_per_100ft(flow_gpm: float, bore_in: float, c: float) -> float:
    """Head that 100 ft of straight pipe take, by Hazen–Williams.

    Water at ordinary temperature only; drifts below 2 ft/s and in bores under 1/2 in.

    Parameters
    ----------
    flow_gpm : float
        Flow, 0 or more. [gpm]
    bore_in : float
        Inside diameter, above 0. [in]
    c : float
        Hazen–Williams C: 150 for PVC, 140 for polyethylene. [1]

    Returns
    -------
    float
        Head loss. [ft per 100 ft]

    Source
    ------
    hazen-williams. Status: secondary.

    Examples
    --------
    >>> round(hazen_williams_loss_ft_per_100ft(10.0, 1.049, 150.0), 2)
    5.54
    """
    return HW_CONSTANT * pow(100.0 * flow_gpm / c, HW_FLOW_POWER) / pow(bore_in, HW_BORE_POWER)


def psi_per_ft(density_kg_m3: float) -> float:
    """Pressure under one foot of water.

    Parameters
    ----------
    density_kg_m3 : float
        Density, from ``engine.water``. [kg/m³]

    Returns
    -------
    float
        Pressure a foot. [psi/ft]

    Source
    ------
    statics. Status: computed.

    Examples
    --------
    >>> round(psi_per_ft(998.5), 4)
    0.4329
    """
    return density_kg_m3 / KG_M3_PER_LB_FT3 / IN2_PER_FT2


def barb_coefficient(barb_bore_in: float, bore_in: float) -> float:
    """Loss coefficient of one barb, on the velocity in the pipe.

    The water squeezes in, K = 0.5 (1 − b²), and spreads out again, K = (1 − b²)²; both are on
    the velocity in the barb, hence the b⁴. b is bore of barb over bore of pipe.

    Parameters
    ----------
    barb_bore_in : float
        Inside diameter of the barb, above 0. [in]
    bore_in : float
        Inside diameter of the pipe, not under the barb's. [in]

    Returns
    -------
    float
        K on the velocity head in the pipe. [1]

    Raises
    ------
    OutOfRange
        The barb's bore is not between 0 and the pipe's.

    Source
    ------
    minor-loss. Status: computed.

    Examples
    --------
    >>> round(barb_coefficient(0.50, 0.622), 2), round(barb_coefficient(0.45, 0.600), 1)
    (0.72, 1.3)
    """
    require(barb_bore_in, "barb_bore", above=0.0, at_most=bore_in, unit="in")
    b2 = (barb_bore_in / bore_in) ** 2
    return (0.5 * (1.0 - b2) + (1.0 - b2) ** 2) / (b2 * b2)


def emitter_barb_ft(size: str, bore_in: float) -> float:
    """Length of pipe that loses as much as one emitter's barb in its wall: c / D^m.

    Parameters
    ----------
    size : str
        ``large``, ``standard`` or ``small`` barb, or ``none``.
    bore_in : float
        Inside diameter of the tubing, above 0. [in]

    Returns
    -------
    float
        Equivalent length of each emitter. [ft]

    Source
    ------
    montalvo. Status: from memory.

    Examples
    --------
    >>> [round(emitter_barb_ft(size, 0.600), 2) for size in ("large", "standard", "none")]
    [0.5, 0.38, 0.0]
    """
    require(bore_in, "bore", above=0.0, unit="in")
    if size == "none":
        return 0.0
    bore_mm = bore_in * M_PER_IN * 1000.0
    metres: float = figure(f"barb_{size}_scale") / bore_mm ** figure(f"barb_{size}_power")
    return metres / (12.0 * M_PER_IN)


def barb_loss_ft(count: int, barb_bore_in: float, bore_in: float, velocity: float) -> float:
    """Head that ``count`` barbs in line take: n K V² / 2g.

    Parameters
    ----------
    count : int
        Barbs that the water passes through. [1]
    barb_bore_in : float
        Inside diameter of the barb. [in]
    bore_in : float
        Inside diameter of the pipe. [in]
    velocity : float
        Mean velocity in the pipe. [ft/s]

    Returns
    -------
    float
        Head loss. [ft]

    Source
    ------
    minor-loss. Status: computed.

    Examples
    --------
    >>> round(barb_loss_ft(1, 0.50, 0.622, 5.0), 2)
    0.28
    """
    if count == 0:
        return 0.0
    return count * barb_coefficient(barb_bore_in, bore_in) * velocity * velocity / (2.0 * GRAVITY)
