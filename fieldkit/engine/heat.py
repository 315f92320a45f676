"""How much of its 73 °F strength a part keeps in the heat."""

from __future__ import annotations

from fieldkit.engine.problems import OutOfRange, require
from fieldkit.engine.words import Figure, say
from fieldkit.engine.working import Line, precise, worked
from fieldkit.tables.fittings import Joint
from fieldkit.tables.materials import HeatFactor, heat_factors


def heat_factor(heat: str, temperature_f: float) -> HeatFactor:
    """The row that holds at ``temperature_f``: the next hotter one, the safe side.

    Never interpolated and never extended: a straight line between rows reads high.

    Parameters
    ----------
    heat : str
        A heat series of ``heat_factors.csv`` (``"pvc"``, ``"pe3608"``, ``"pe4710"``).
    temperature_f : float
        Hottest temperature of wall or water; up to the last row, 140. [°F]

    Returns
    -------
    HeatFactor
        The row used, with its source. [factor: 1]

    Raises
    ------
    OutOfRange
        Hotter than the last row: not rated.

    Source
    ------
    ppfa-3-96 for PVC, ppi-tr-3 for polyethylene.

    Examples
    --------
    >>> heat_factor("pvc", 95.0).factor
    0.62
    """
    require(temperature_f, "temperature", unit="°F", places=0)
    rows = heat_factors()[heat]
    for row in rows:
        if temperature_f <= row.temperature_f:
            return row
    hottest = rows[-1].temperature_f
    raise OutOfRange(
        "temperature",
        temperature_f,
        say(
            "{given} is hotter than the last row of the heat table, {limit}: not rated.",
            given=Figure(temperature_f, "°F"),
            limit=Figure(hottest, "°F"),
        ),
        say("Cool or shade it to {limit} or less.", limit=Figure(hottest, "°F")),
    )


def hot_ceiling(
    joint: Joint, cold_psi: float, heat: HeatFactor, temperature_f: float
) -> tuple[float, tuple[Line, Line]]:
    """What a joint that bears ``cold_psi`` at 73 °F bears in the heat, with its working.

    Parameters
    ----------
    joint : Joint
        The row that ``cold_psi`` rests on.
    cold_psi : float
        Ceiling at 73 °F, 0 or more. [psi]
    heat : HeatFactor
        The row of ``heat_factor`` at ``temperature_f``.
    temperature_f : float
        Hottest temperature of wall or water. [°F]

    Returns
    -------
    tuple of float and of two Line
        The ceiling in the heat, and how it came about. [psi]

    Source
    ------
    The row of joints.csv; ppfa-3-96 for PVC, ppi-tr-3 for polyethylene.

    Examples
    --------
    >>> from fieldkit.tables.fittings import joints
    >>> hot_ceiling(joints()["saddle"], 50.0, heat_factor("pvc", 95.0), 95.0)[0]
    31.0
    """
    hot_psi = cold_psi * heat.factor
    return hot_psi, (
        worked(
            "ceiling",
            hot_psi,
            {"at 73 °F": precise(cold_psi, "psi"), "heat factor": precise(heat.factor)},
            rests=joint,
        ),
        worked("heat_factor", heat.factor, rests=heat, temperature=Figure(temperature_f, "°F")),
    )
