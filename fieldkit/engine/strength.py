"""Long-term pressure that plain-end plastic pipe is rated for, and how close is too close."""

from __future__ import annotations

from math import ceil, floor

from fieldkit.engine.problems import require
from fieldkit.engine.words import Figure
from fieldkit.tables.hydraulics import Hydraulic, hydraulics

HOLDS, MARGINAL, LETS_GO = "holds", "marginal", "lets_go"


def rating_figure(psi: float) -> Figure:
    """A pressure that something bears, as every page shows it: whole psi, rounded down.

    Examples
    --------
    >>> str(rating_figure(166.38)), str(rating_figure(50.0)), str(rating_figure(49.9999999999))
    ('166 psi', '50 psi', '50 psi')
    """
    return Figure(floor(psi + 1e-9), "psi")


def load_figure(psi: float) -> Figure:
    """A pressure that something must bear, as every page shows it: whole psi, rounded up.

    Examples
    --------
    >>> str(load_figure(119.2)), str(load_figure(50.0)), str(load_figure(50.0000000001))
    ('120 psi', '50 psi', '50 psi')
    """
    return Figure(ceil(psi - 1e-9), "psi")


def share_of_limit(surge_psi: float | None) -> Hydraulic:
    """Share of a limit that may be used: less where the surge is not known. [1]

    Source
    ------
    nrcs-mo-livestock for 0.72; fieldkit-rule for 0.90. Status: secondary.
    """
    return hydraulics()["surge_unknown_share" if surge_psi is None else "marginal_share"]


def verdict_of(static_psi: float, surge_psi: float | None, limit_psi: float) -> str:
    """Holds, marginal (too close), or lets go: the highest pressure against the limit.

    With the surge known: lets go above the limit, marginal from 0.90 of it. With the surge not
    known: marginal from 0.72 of it, so that a surge has room.

    Parameters
    ----------
    static_psi : float
        Highest steady pressure. [psi]
    surge_psi : float, optional
        Surge on top of it. [psi]
    limit_psi : float
        What the joint bears, hot. [psi]

    Returns
    -------
    str
        ``holds``, ``marginal`` or ``lets_go``.

    Source
    ------
    nrcs-mo-livestock for 0.72; fieldkit-rule for 0.90. Status: secondary.

    Examples
    --------
    >>> verdict_of(30.0, 0.0, 50.0), verdict_of(40.0, None, 50.0), verdict_of(40.0, 20.0, 50.0)
    ('holds', 'marginal', 'lets_go')
    """
    peak = static_psi + (surge_psi or 0.0)
    if peak > limit_psi:
        return LETS_GO
    return MARGINAL if peak > share_of_limit(surge_psi).value * limit_psi else HOLDS


def pipe_pressure_rating(od_in: float, wall_in: float, design_stress_psi: float) -> float:
    """Rating from outside diameter and wall.

    P = 2 S t / (D − t): hoop stress on the mean diameter.

    Parameters
    ----------
    od_in : float
        Outside diameter D, above 0. [in]
    wall_in : float
        Minimum wall t; above 0 and below half of ``od_in``. [in]
    design_stress_psi : float
        Hydrostatic design stress S, above 0, from ``materials.csv``. [psi]

    Returns
    -------
    float
        Rating before any reduction for heat, threads or fittings. [psi]

    Raises
    ------
    OutOfRange
        A value is outside the range given above.

    Source
    ------
    astm-d1785, appendix on pressure ratings. Status: secondary.

    Examples
    --------
    >>> round(pipe_pressure_rating(0.840, 0.109, 2000.0))
    596
    """
    require(od_in, "od_in", above=0.0, unit="in")
    require(wall_in, "wall_in", above=0.0, below=od_in / 2, unit="in")
    require(design_stress_psi, "design_stress_psi", above=0.0, unit="psi")
    return 2 * design_stress_psi * wall_in / (od_in - wall_in)
