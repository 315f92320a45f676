"""How hot a wall gets in the sun when nobody measured it: an estimate, and marked as one."""

from __future__ import annotations

from fieldkit.engine.problems import require
from fieldkit.engine.working import Line, precise, worked
from fieldkit.tables.hydraulics import hydraulics


def wall_temperature_f(air_f: float, *, sun: bool) -> float:
    """Wall of bare black tubing: the air's, and 30 °F more in full sun.

    Parameters
    ----------
    air_f : float
        Air temperature, −40 to 140. [°F]
    sun : bool
        Whether the sun shines on it.

    Returns
    -------
    float
        Estimated wall temperature. [°F]

    Raises
    ------
    OutOfRange
        The air temperature is not between −40 and 140 °F.

    Source
    ------
    trade. Status: common practice, no source.

    Examples
    --------
    >>> wall_temperature_f(95.0, sun=True)
    125.0
    """
    require(air_f, "air_temperature", at_least=-40.0, at_most=140.0, unit="°F", places=0)
    return air_f + (hydraulics()["sun_rise"].value if sun else 0.0)


def sun_line(air_f: float, *, sun: bool) -> Line:
    """The working of ``wall_temperature_f``, which says that it is an estimate."""
    row = hydraulics()["sun_rise"]
    return worked(
        "wall_temperature_in_sun" if sun else "wall_temperature_in_shade",
        wall_temperature_f(air_f, sun=sun),
        {"air": precise(air_f, "°F")} | ({"rise": precise(row.value, "°F")} if sun else {}),
        rests=row,
    )
