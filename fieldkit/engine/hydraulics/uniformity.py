"""How even a line of outlets is, and the trade's closed forms for it."""

from __future__ import annotations

import math

from fieldkit.engine.hydraulics.friction import HW_FLOW_POWER, hazen_williams_loss_ft_per_100ft
from fieldkit.engine.hydraulics.march import Marched
from fieldkit.engine.problems import require
from fieldkit.tables.hydraulics import figure

EU_CONSTANT = figure("eu_constant")


def christiansen_factor(outlets: int, power: float = HW_FLOW_POWER) -> float:
    """Share of the full-flow loss that a line with equal outlets has: F.

    F = Σ kᵐ / N^(m+1), summed exactly up to 200 outlets; beyond that
    F = 1/(m+1) + 1/(2N) + √(m−1)/(6N²), which agrees there to 6 digits.

    Parameters
    ----------
    outlets : int
        Number of outlets N, 1 or more, the first one a full spacing from the inlet. [1]
    power : float
        Power m of the flow in the loss formula: 1.852 Hazen–Williams, 1.75 smooth. [1]

    Returns
    -------
    float
        F, from 1 for one outlet down to 1/(m + 1). [1]

    Raises
    ------
    OutOfRange
        Fewer than 1 outlet.

    Source
    ------
    christiansen. Status: secondary.

    Examples
    --------
    >>> christiansen_factor(1), round(christiansen_factor(10), 3)
    (1.0, 0.402)
    """
    require(outlets, "outlets", at_least=1)
    if outlets <= 200:
        steps = math.fsum(math.pow(k, power) for k in range(1, outlets + 1))
        return steps / math.pow(outlets, power + 1)
    return 1 / (power + 1) + 1 / (2 * outlets) + math.sqrt(power - 1) / (6 * outlets**2)


def emission_uniformity(
    least_flow: float, mean_flow: float, cv: float, emitters_per_plant: float = 1.0
) -> float:
    """How evenly a line waters: EU = 100 (1 − 1.27 Cv/√n) qmin/qmean.

    Parameters
    ----------
    least_flow : float
        Smallest outlet flow. [gph]
    mean_flow : float
        Mean outlet flow, above 0, in the same unit. [gph]
    cv : float
        Maker's coefficient of variation, as a share: 0.05, not 5. [1]
    emitters_per_plant : float
        n, 1 or more. [1]

    Returns
    -------
    float
        Emission uniformity. [%]

    Source
    ------
    ep405. Status: secondary.

    Examples
    --------
    >>> round(emission_uniformity(0.95, 1.0, 0.05), 2)
    88.97
    """
    spread = 1.0 - EU_CONSTANT * cv / math.sqrt(emitters_per_plant)
    return 100.0 * spread * least_flow / mean_flow


def longest_closed_form(
    *,
    bore_in: float,
    c: float,
    outlet_gpm: float,
    spacing_ft: float,
    drop_ft: float,
    rise: float = 0.0,
) -> float:
    """Longest line whose far end is ``drop_ft`` below the inlet, every outlet at full flow.

    The trade's closed form, Hazen–Williams with F = 1/(m + 1) of very many outlets:
    L = [100 ΔH / (h₁ (q/s)^m F)]^(1/(m+1)) on the flat.

    Parameters
    ----------
    bore_in : float
        Inside diameter. [in]
    c : float
        Hazen–Williams C. [1]
    outlet_gpm : float
        Flow of each outlet. [gpm]
    spacing_ft : float
        Distance between outlets. [ft]
    drop_ft : float
        Head that may be lost, above 0. [ft]
    rise : float
        Feet up a foot along, positive uphill. [ft/ft]

    Returns
    -------
    float
        Length. [ft]

    Source
    ------
    christiansen, hazen-williams. Status: computed.

    Examples
    --------
    >>> drop = 0.20 * 20 / 0.4335
    >>> round(longest_closed_form(bore_in=0.6, c=140, outlet_gpm=1 / 60, spacing_ft=1,
    ...                           drop_ft=drop))
    204
    """
    power = HW_FLOW_POWER
    at_one = hazen_williams_loss_ft_per_100ft(outlet_gpm / spacing_ft, bore_in, c) / 100.0
    scale = at_one / (power + 1.0)
    longest = math.pow(drop_ft / scale, 1.0 / (power + 1.0))
    if rise == 0.0:
        return longest
    low, high = 0.0, longest
    while rise < 0.0 and scale * high ** (power + 1.0) + rise * high < drop_ft:
        high *= 2.0
    for _ in range(80):
        middle = (low + high) / 2.0
        if scale * middle ** (power + 1.0) + rise * middle <= drop_ft:
            low = middle
        else:
            high = middle
    return low


def variation(inlet_psi: float, marched: Marched) -> float:
    """Spread of pressure in a line: (highest − lowest) / highest, the inlet counted.

    Parameters
    ----------
    inlet_psi : float
        Pressure at the inlet, above 0. [psi]
    marched : Marched
        The line. [psi]

    Returns
    -------
    float
        Share, 0 to 1. [1]

    Source
    ------
    ep405. Status: secondary.
    """
    highest = max(inlet_psi, *marched.pressures_psi)
    return (highest - min(marched.pressures_psi)) / highest
