"""Water that a gasketed PVC line may take in a test: rings seep a little, welds do not."""

from __future__ import annotations

import math

from fieldkit.engine.problems import require

ML_PER_GALLON = 3785.411784


def gasketed_makeup_gph(joints: int, diameter_in: float, pressure_psi: float) -> float:
    """Make-up water allowed while a gasketed PVC line is held at pressure.

    Q = N D √P / 7400; with sticks of 20 ft this is L D √P / 148,000.

    Parameters
    ----------
    joints : int
        Gasketed joints under test N, 0 or more. [1]
    diameter_in : float
        Trade size D, above 0. [in]
    pressure_psi : float
        Mean test pressure P, 0 or more. [psi]

    Returns
    -------
    float
        Allowed make-up. [gph]

    Raises
    ------
    OutOfRange
        A value is outside the range given above.

    Source
    ------
    awwa-c605. Status: secondary.

    Examples
    --------
    >>> round(gasketed_makeup_gph(50, 4.0, 150.0), 2)
    0.33
    """
    require(float(joints), "joints", at_least=0.0, places=0)
    require(diameter_in, "diameter_in", above=0.0, unit="in")
    require(pressure_psi, "pressure_psi", at_least=0.0, unit="psi")
    return joints * diameter_in * math.sqrt(pressure_psi) / 7400
