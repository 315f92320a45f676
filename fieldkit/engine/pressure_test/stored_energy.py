"""Energy that a line under test would let go of: why it is tested with water only."""

from __future__ import annotations

from dataclasses import dataclass

from fieldkit.engine.pressure_test.line_stiffness import ShutInLine
from fieldkit.engine.problems import require
from fieldkit.tables.proving_rules import proving_value

_JOULE_PER_FT_LBF = 1.3558179483


def air_energy_ft_lbf(volume_ft3: float, pressure_psi: float) -> float:
    """Work that compressed air does on its way out: the energy of a burst.

    E = P V/(k − 1) [1 − (Pa/P)^((k − 1)/k)], absolute pressures, k = 1.4.

    Parameters
    ----------
    volume_ft3 : float
        Inside volume of the line, 0 or more. [ft³]
    pressure_psi : float
        Gauge pressure, 0 or more. [psi]

    Returns
    -------
    float
        Stored energy. [ft·lbf]

    Raises
    ------
    OutOfRange
        A value is below 0.

    Source
    ------
    statics. Status: computed.

    Examples
    --------
    >>> round(air_energy_ft_lbf(2.33, 100.0), -2)
    42700.0
    """
    require(volume_ft3, "volume_ft3", at_least=0.0, unit="ft³")
    require(pressure_psi, "pressure_psi", at_least=0.0, unit="psi")
    outside, k = proving_value("atmosphere_psi"), proving_value("air_exponent")
    absolute = pressure_psi + outside
    bracket: float = 1 - (outside / absolute) ** ((k - 1) / k)
    return absolute * 144 * volume_ft3 / (k - 1) * bracket


def water_energy_ft_lbf(volume_ft3: float, pressure_psi: float, stiffness: float) -> float:
    """Energy in squeezed water and stretched wall: E = P² V / (2 Keff).

    Parameters
    ----------
    volume_ft3 : float
        Inside volume of the line, 0 or more. [ft³]
    pressure_psi : float
        Gauge pressure, 0 or more. [psi]
    stiffness : float
        Stiffness Keff of line and water, above 0. [psi]

    Returns
    -------
    float
        Stored energy. [ft·lbf]

    Raises
    ------
    OutOfRange
        A value is outside the range given above.

    Source
    ------
    statics. Status: computed.

    Examples
    --------
    >>> round(water_energy_ft_lbf(2.33, 100.0, 29_400.0))
    57
    """
    require(volume_ft3, "volume_ft3", at_least=0.0, unit="ft³")
    require(pressure_psi, "pressure_psi", at_least=0.0, unit="psi")
    require(stiffness, "stiffness", above=0.0, unit="psi")
    return pressure_psi**2 / (2 * stiffness) * 144 * volume_ft3


@dataclass(frozen=True, slots=True)
class StoredEnergy:
    """What the same line would store, filled with water and filled with air."""

    water_j: float
    air_j: float
    ratio: float
    air_tnt_g: float
    volume_ft3: float
    stiffness_psi: float


def stored_energy(line: ShutInLine, pressure_psi: float, temperature_f: float) -> StoredEnergy:
    """Both energies of one line at ``pressure_psi`` gauge.

    Source
    ------
    statics; berkeley-ehs for the energy of TNT. Status: computed.
    """
    volume_ft3 = line.volume_in3 / 1728
    stiffness = line.stiffness_psi(temperature_f)
    water = water_energy_ft_lbf(volume_ft3, pressure_psi, stiffness)
    air = air_energy_ft_lbf(volume_ft3, pressure_psi)
    return StoredEnergy(
        water_j=water * _JOULE_PER_FT_LBF,
        air_j=air * _JOULE_PER_FT_LBF,
        ratio=air / water if water > 0 else 0.0,
        air_tnt_g=air * _JOULE_PER_FT_LBF / 1000 / proving_value("tnt_kj_per_g"),
        volume_ft3=volume_ft3,
        stiffness_psi=stiffness,
    )
