"""How much a run grows in the heat and shrinks in the cold."""

from __future__ import annotations

from fieldkit.engine.problems import require


def length_change_in(alpha_per_f: float, length_ft: float, change_f: float) -> float:
    """Change of length of a free run: α L ΔT.

    Parameters
    ----------
    alpha_per_f : float
        Expansion of the material, above 0, from ``tables.materials``. [1/°F]
    length_ft : float
        Length, 0 or more. [ft]
    change_f : float
        Temperature change, positive when it warms. [°F]

    Returns
    -------
    float
        Change, positive when it grows. [in]

    Raises
    ------
    OutOfRange
        A value is outside the range given above.

    Source
    ------
    statics. Status: computed.

    Examples
    --------
    >>> round(length_change_in(28e-6, 300.0, 70.0), 1)
    7.1
    """
    require(alpha_per_f, "alpha", above=0.0)
    require(length_ft, "length", at_least=0.0, unit="ft", places=1)
    return alpha_per_f * length_ft * 12.0 * change_f
