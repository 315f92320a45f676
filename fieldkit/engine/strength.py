"""Long-term pressure that plain-end plastic pipe is rated for at 73 °F."""

from __future__ import annotations

from fieldkit.engine.problems import require


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


def rating_from_dr(dr: float, design_stress_psi: float) -> float:
    """Rating of pipe sized by its outside (SDR, DR).

    P = 2 S / (DR − 1), which is ``pipe_pressure_rating`` with D/t = DR.

    Parameters
    ----------
    dr : float
        Outside diameter over minimum wall, above 2. [1]
    design_stress_psi : float
        Hydrostatic design stress S, above 0. [psi]

    Returns
    -------
    float
        Rating before any reduction. [psi]

    Raises
    ------
    OutOfRange
        A value is outside the range given above.

    Source
    ------
    astm-d2241, appendix on pressure ratings. Status: secondary.

    Examples
    --------
    >>> rating_from_dr(21.0, 2000.0)
    200.0
    """
    require(dr, "dr", above=2.0)
    require(design_stress_psi, "design_stress_psi", above=0.0, unit="psi")
    return 2 * design_stress_psi / (dr - 1)


def rating_from_sidr(sidr: float, design_stress_psi: float) -> float:
    """Rating of polyethylene pipe sized by its bore (SIDR).

    P = 2 S / (SIDR + 1), which is ``pipe_pressure_rating`` with D = (SIDR + 2) t.

    Parameters
    ----------
    sidr : float
        Bore over minimum wall, above 0. [1]
    design_stress_psi : float
        Hydrostatic design stress S, above 0. [psi]

    Returns
    -------
    float
        Rating before any reduction. The print line on the pipe rules. [psi]

    Raises
    ------
    OutOfRange
        A value is outside the range given above.

    Source
    ------
    astm-d2239. Status: from memory.

    Examples
    --------
    >>> rating_from_sidr(15.0, 800.0), rating_from_sidr(19.0, 800.0)
    (100.0, 80.0)
    """
    require(sidr, "sidr", above=0.0)
    require(design_stress_psi, "design_stress_psi", above=0.0, unit="psi")
    return 2 * design_stress_psi / (sidr + 1)
