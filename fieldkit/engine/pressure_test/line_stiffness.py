"""How a shut-in line full of water answers to heat: its stiffness, and its pressure.

The mass of water between two closed valves does not change. Water swells by β dT − dP/K, the
bore by γ dT + W dP, and the two must stay equal::

    dP/dT = (β − γ) / (1/K + W)

Several pipes in one line share one pressure, so their volumes add: γ and W become the means
over the line, each weighted by its share of the volume. Trapped air adds to both sides.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from fieldkit.engine.problems import Problem, require
from fieldkit.engine.water import water_at
from fieldkit.engine.words import say
from fieldkit.tables.materials import Material
from fieldkit.tables.proving_rules import proving_value

Restraint = Literal["buried", "free", "gasketed"]
RESTRAINTS: tuple[Restraint, ...] = ("buried", "free", "gasketed")

#: Which modulus of a creeping material: first minutes, or stiff and soft end after hours.
Stretch = Literal["short", "hours", "low"]

#: Widest step of the integral; the water rows lie 4 °F apart.
_STEP_F = 2.0
_RANKINE = 459.67


def bore_growth_per_f(alpha_per_f: float, poisson: float, restraint: Restraint) -> float:
    """Share by which the volume of the bore grows for each degree, at constant pressure.

    γ = 3 α free to lengthen; 2 (1 + ν) α where the ground holds its length; 2 α where gasketed
    ends slip.

    Parameters
    ----------
    alpha_per_f : float
        Linear thermal expansion α. [1/°F]
    poisson : float
        Poisson's ratio ν. [1]
    restraint : str
        ``"buried"``, ``"free"`` or ``"gasketed"``.

    Returns
    -------
    float
        Volume growth γ. [1/°F]

    Source
    ------
    statics. Status: computed.

    Examples
    --------
    >>> round(bore_growth_per_f(3.0e-5, 0.38, "buried"), 8)
    8.28e-05
    """
    if restraint == "free":
        return 3 * alpha_per_f
    if restraint == "buried":
        return 2 * (1 + poisson) * alpha_per_f
    return 2 * alpha_per_f


def wall_give_per_psi(
    mean_diameter_in: float,
    wall_in: float,
    modulus_psi: float,
    poisson: float,
    restraint: Restraint,
) -> float:
    """Share by which the volume of the bore grows for each psi, at constant temperature.

    W = c Dm / (E t), with c = 1.25 − ν free with closed ends, 1 − ν² held by the ground, 1 where
    gasketed ends slip.

    Parameters
    ----------
    mean_diameter_in : float
        Mean of outside and inside diameter Dm, above 0. [in]
    wall_in : float
        Wall t, above 0. [in]
    modulus_psi : float
        Modulus of elasticity E for a slow load, above 0. [psi]
    poisson : float
        Poisson's ratio ν. [1]
    restraint : str
        ``"buried"``, ``"free"`` or ``"gasketed"``.

    Returns
    -------
    float
        Give W of the wall. [1/psi]

    Raises
    ------
    OutOfRange
        A value is outside the range given above.

    Source
    ------
    statics. Status: computed.

    Examples
    --------
    >>> f"{wall_give_per_psi(2.221, 0.154, 400_000.0, 0.38, 'buried'):.3e}"
    '3.085e-05'
    """
    require(mean_diameter_in, "mean_diameter_in", above=0.0, unit="in")
    require(wall_in, "wall_in", above=0.0, unit="in")
    require(modulus_psi, "modulus_psi", above=0.0, unit="psi", places=0)
    c = {"free": 1.25 - poisson, "buried": 1 - poisson**2, "gasketed": 1.0}[restraint]
    return c * mean_diameter_in / (modulus_psi * wall_in)


def stiffness_psi(bulk_modulus_psi: float, wall_give: float) -> float:
    """Pressure that a share of the volume pumped in would add: Keff = 1 / (1/K + W).

    Parameters
    ----------
    bulk_modulus_psi : float
        Bulk modulus of water K. [psi]
    wall_give : float
        Give of the wall W; 0 for a rigid vessel. [1/psi]

    Returns
    -------
    float
        Stiffness of line and water Keff. [psi]

    Source
    ------
    statics. Status: computed.

    Examples
    --------
    >>> round(stiffness_psi(316_600.0, 3.085e-5), -2)
    29400.0
    """
    return 1 / (1 / bulk_modulus_psi + wall_give)


@dataclass(frozen=True, slots=True)
class Segment:
    """One run of pipe in the line: what it is made of, its bore, wall and length."""

    name: str
    material: Material
    bore_in: float
    wall_in: float
    length_ft: float

    @property
    def volume_in3(self) -> float:
        """Water it holds. [in³]"""
        return math.pi / 4 * self.bore_in**2 * self.length_ft * 12

    @property
    def creeps(self) -> bool:
        """Whether its wall goes on stretching under a steady pressure."""
        return self.material.modulus_psi != self.material.modulus_low_psi


@dataclass(frozen=True, slots=True)
class Line:
    """A whole line as one vessel: volume, growth with heat, give with pressure."""

    volume_in3: float
    growth_per_f: float
    growth_half_width_per_f: float
    wall_give_per_psi: float

    @property
    def volume_ml(self) -> float:
        """Water it holds. [mL]"""
        return self.volume_in3 * 16.387064

    def stiffness_psi(self, temperature_f: float) -> float:
        """Keff with water at ``temperature_f``, no air in it. [psi]"""
        return stiffness_psi(water_at(temperature_f).bulk_modulus_psi, self.wall_give_per_psi)


def line_of(segments: Sequence[Segment], restraint: Restraint, stretch: Stretch = "short") -> Line:
    """Put segments that share one pressure together into one vessel.

    With V the sum of the volumes and w = V_i / V, mass balance over all of them gives
    γ = Σ w γ_i and W = Σ w W_i.

    Raises
    ------
    Problem
        There is no segment, or nothing is known of the stiffness of its material.

    Source
    ------
    statics. Status: computed.
    """
    if not segments:
        raise Problem(
            "line",
            None,
            say("No pipe was given."),
            say("Give at least one pipe with its length."),
        )
    volume = growth = half_width = give = 0.0
    for segment in segments:
        material = segment.material
        modulus = {
            "short": material.modulus_psi,
            "hours": material.modulus_hours_psi,
            "low": material.modulus_low_psi,
        }[stretch]
        if modulus is None or material.poisson is None:
            raise Problem(
                "line",
                segment.name,
                say("We have no stiffness for {name}.", name=material.name.lower()),
                say("Test the PVC and polyethylene parts of the line without it."),
            )
        part = segment.volume_in3
        volume += part
        growth += part * bore_growth_per_f(material.alpha_per_f, material.poisson, restraint)
        half_width += part * bore_growth_per_f(
            material.alpha_half_width_per_f, material.poisson, restraint
        )
        give += part * wall_give_per_psi(
            segment.bore_in + segment.wall_in, segment.wall_in, modulus, material.poisson, restraint
        )
    return Line(volume, growth / volume, half_width / volume, give / volume)


def pressure_after_heat(
    line: Line,
    start_psi: float,
    start_f: float,
    end_f: float,
    air_share: float = 0.0,
) -> float:
    """Pressure of a tight shut-in line once its water went from ``start_f`` to ``end_f``.

    Integrates dP/dT = (β − γ + a/T) / (1/K + W + a/P), with β and K of the water at each
    temperature and a = x Pa/P the share of the line that air still takes up (Boyle).

    Parameters
    ----------
    line : Line
        The line as one vessel.
    start_psi : float
        Gauge pressure at the start, 0 or more. [psi]
    start_f : float
        Water temperature at the start, 36 to 140. [°F]
    end_f : float
        Water temperature at the end, 36 to 140. [°F]
    air_share : float
        Share x of the line that was air when it was full at no pressure. [1]

    Returns
    -------
    float
        Gauge pressure at the end. [psi]

    Raises
    ------
    OutOfRange
        A temperature is outside the water table.

    Source
    ------
    iapws-95 for water; statics. Status: computed.

    Examples
    --------
    >>> pipe = Line(12_080.0, 8.28e-5, 1.1e-5, 3.085e-5)
    >>> round(pressure_after_heat(pipe, 100.0, 68.0, 78.0), 1)
    114.2
    """
    if start_f == end_f:
        return start_psi
    outside = proving_value("atmosphere_psi")

    def slope(absolute_psi: float, temperature_f: float) -> float:
        water = water_at(temperature_f)
        # A cooled line with air in it runs to a vacuum, never below it.
        pressure = max(absolute_psi, 0.5)
        air = air_share * outside / pressure
        push = water.expansion_per_f - line.growth_per_f + air / (temperature_f + _RANKINE)
        return push / (1 / water.bulk_modulus_psi + line.wall_give_per_psi + air / pressure)

    pressure = start_psi + outside
    steps = max(2, math.ceil(abs(end_f - start_f) / _STEP_F))
    step = (end_f - start_f) / steps
    for index in range(steps):
        at = start_f + index * step
        first = slope(pressure, at)
        second = slope(pressure + first * step / 2, at + step / 2)
        third = slope(pressure + second * step / 2, at + step / 2)
        fourth = slope(pressure + third * step, end_f if index == steps - 1 else at + step)
        pressure += step / 6 * (first + 2 * second + 2 * third + fourth)
    return pressure - outside


def pump_in_ml(line: Line, pressure_psi: float, temperature_f: float) -> float:
    """Water that lifts a full line without air from 0 to ``pressure_psi``: V P / Keff. [mL]

    Parameters
    ----------
    line : Line
        The line as one vessel.
    pressure_psi : float
        Gauge pressure reached. [psi]
    temperature_f : float
        Water temperature. [°F]

    Returns
    -------
    float
        Water pumped in. [mL]

    Source
    ------
    statics. Status: computed.
    """
    return line.volume_ml * pressure_psi / line.stiffness_psi(temperature_f)


def trapped_air_share(
    line: Line, pumped_ml: float, pressure_psi: float, temperature_f: float
) -> float:
    """Share of the line that was air, from the water it took to reach ``pressure_psi``.

    x = (pumped − V P / Keff) / (V (1 − Pa/P)), P absolute in the last bracket; none where the
    line took no more than it should.

    Parameters
    ----------
    line : Line
        The line as one vessel.
    pumped_ml : float
        Water pumped in from full at no pressure. [mL]
    pressure_psi : float
        Gauge pressure reached, above 0. [psi]
    temperature_f : float
        Water temperature. [°F]

    Returns
    -------
    float
        Share of the volume that was air when the line was full at no pressure. [1]

    Raises
    ------
    OutOfRange
        The pressure is not above 0.

    Source
    ------
    statics. Status: computed.
    """
    require(pressure_psi, "pressure", above=0.0, unit="psi")
    outside = proving_value("atmosphere_psi")
    squeezed = 1 - outside / (pressure_psi + outside)
    spare = pumped_ml - pump_in_ml(line, pressure_psi, temperature_f)
    return max(0.0, spare / (line.volume_ml * squeezed))


def lost_water_ml(
    line: Line, high_psi: float, drop_psi: float, temperature_f: float, air_share: float = 0.0
) -> float:
    """Water that left while the pressure fell by ``drop_psi`` at one temperature.

    V ΔP / Keff, and what trapped air pushed out as it grew: x V Pa (1/P2 − 1/P1), P absolute.

    Parameters
    ----------
    line : Line
        The line as one vessel.
    high_psi : float
        Gauge pressure before. [psi]
    drop_psi : float
        Fall of pressure, at most down to an empty gauge. [psi]
    temperature_f : float
        Water temperature. [°F]
    air_share : float
        Share of the line that was air when full at no pressure. [1]

    Returns
    -------
    float
        Water lost. [mL]

    Source
    ------
    statics. Status: computed.
    """
    outside = proving_value("atmosphere_psi")
    first = high_psi + outside
    second = max(first - drop_psi, 0.5)
    wall_and_water = line.volume_ml * drop_psi / line.stiffness_psi(temperature_f)
    return wall_and_water + air_share * line.volume_ml * outside * (1 / second - 1 / first)
