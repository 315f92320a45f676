"""How a shut-in line full of water answers to heat: its stiffness, and its pressure.

The mass of water between two closed valves does not change. Water swells by β dT − dP/K, the
bore by γ dT + W dP, and the two must stay equal::

    dP/dT = (β − γ) / (1/K + W)

Several pipes in one line share one pressure, so their volumes add: γ and W become the means
over the line, each weighted by its share of the volume. Trapped air adds to both sides.
Walls are taken as thick: small pipe of heavy wall gives a fifth more than thin-wall theory says.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from fieldkit.engine.problems import Problem, require
from fieldkit.engine.water import water_at
from fieldkit.engine.words import say
from fieldkit.tables.materials import Material, slow_stretch
from fieldkit.tables.pipes import Pipe
from fieldkit.tables.proving_rules import proving_value

Restraint = Literal["buried", "free", "gasketed"]
RESTRAINTS: tuple[Restraint, ...] = ("buried", "free", "gasketed")

#: Moduli are printed for this temperature. [°F]
_RATED_F = 73.0

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
    bore_in: float,
    wall_in: float,
    modulus_psi: float,
    poisson: float,
    restraint: Restraint,
) -> float:
    """Share by which the volume of the bore grows for each psi, at constant temperature.

    A thick tube by Lamé, with d and D inside and outside diameter:
    W = 2 [(1 + ν) D² + m d²] / (E (D² − d²)), with m = 1.5 (1 − 2 ν) free with closed ends,
    (1 + ν) (1 − 2 ν) held by the ground (no axial strain), 1 − ν where gasketed ends slip: no
    axial stress, and the line as a whole keeps its length.

    Parameters
    ----------
    bore_in : float
        Inside diameter d, above 0. [in]
    wall_in : float
        Wall, above 0. [in]
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
    >>> f"{wall_give_per_psi(2.067, 0.154, 400_000.0, 0.38, 'buried'):.3e}"
    '3.362e-05'
    """
    require(bore_in, "bore_in", above=0.0, unit="in")
    require(wall_in, "wall_in", above=0.0, unit="in")
    require(modulus_psi, "modulus_psi", above=0.0, unit="psi", places=0)
    soft = 1 - 2 * poisson
    m = {"free": 1.5 * soft, "buried": (1 + poisson) * soft, "gasketed": 1 - poisson}[restraint]
    inside, outside = bore_in**2, (bore_in + 2 * wall_in) ** 2
    push = (1 + poisson) * outside + m * inside
    return 2 * push / (modulus_psi * (outside - inside))


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
    """One run of pipe in the line: what it is made of, its bore, wall and length.

    ``wall_half_width_in`` is how far the wall may be off, the outside staying as it is.
    """

    name: str
    material: Material
    bore_in: float
    wall_in: float
    length_ft: float
    wall_half_width_in: float = 0.0

    @property
    def volume_in3(self) -> float:
        """Water it holds. [in³]"""
        return math.pi / 4 * self.bore_in**2 * self.length_ft * 12


def segment_of(pipe: Pipe, material: Material, length_ft: float) -> Segment:
    """A run of a pipe of the table: its likeliest wall, and how far that may be off.

    Raises
    ------
    Problem
        The table has no wall for it.

    Source
    ------
    Wall and its tolerance by pipes.csv. Status: of the row.
    """
    if pipe.wall_in is None:
        raise Problem(
            "nominal",
            pipe.name,
            say("We do not know the wall of this pipe."),
            say("Pick the nearest size of rigid pipe."),
        )
    low, high = (pipe.wall_minus_in or 0.0), (pipe.wall_plus_in or 0.0)
    wall, half = pipe.wall_in + (high - low) / 2, (high + low) / 2
    if pipe.sized_by == "ID" and pipe.bore_in is not None:
        bore = pipe.bore_in
    else:
        bore = pipe.od_in - 2 * wall
    return Segment(pipe.name, material, bore, wall, length_ft, half)


@dataclass(frozen=True, slots=True)
class ShutInLine:
    """A whole line as one vessel: volume, growth with heat, give with pressure.

    ``give_share`` is the standard uncertainty of V W as a share of it, from modulus and wall.
    ``stretch_per_psi`` is by how much W grows for a tenfold time under pressure, with the half
    width of that.
    """

    volume_in3: float
    growth_per_f: float
    growth_half_width_per_f: float
    wall_give_per_psi: float
    give_share: float = 0.0
    stretch_per_psi: float = 0.0
    stretch_half_width_per_psi: float = 0.0

    @property
    def volume_ml(self) -> float:
        """Water it holds. [mL]"""
        return self.volume_in3 * 16.387064

    def stiffness_psi(self, temperature_f: float) -> float:
        """Keff with water at ``temperature_f``, no air in it. [psi]"""
        return stiffness_psi(water_at(temperature_f).bulk_modulus_psi, self.wall_give_per_psi)


def line_of(
    segments: Sequence[Segment], restraint: Restraint, temperature_f: float = _RATED_F
) -> ShutInLine:
    """Put segments that share one pressure together into one vessel.

    With V the sum of the volumes and w = V_i / V, mass balance over all of them gives
    γ = Σ w γ_i and W = Σ w W_i. A wall over 73 °F has lost some of its modulus.

    Raises
    ------
    Problem
        There is no segment, or nothing is known of the stiffness of its material.

    Source
    ------
    statics; moduli by slow_stretch.csv. Status: from memory.
    """
    if not segments:
        raise Problem(
            "line",
            None,
            say("No pipe was given."),
            say("Give at least one pipe with its length."),
        )
    volume = growth = growth_half = give = give_off = stretch = stretch_half = 0.0
    for segment in segments:
        material, slow = segment.material, slow_stretch().get(segment.material.id)
        if material.modulus_psi is None or material.poisson is None or slow is None:
            raise Problem(
                "line",
                segment.name,
                say("We have no stiffness for {name}.", name=material.name.lower()),
                say("Test the PVC and polyethylene parts of the line without it."),
            )
        lost = slow.modulus_fall_per_f * max(0.0, temperature_f - _RATED_F)
        modulus, poisson = material.modulus_psi * (1 - min(lost, 0.7)), material.poisson
        part = segment.volume_in3
        volume += part
        growth += part * bore_growth_per_f(material.alpha_per_f, poisson, restraint)
        growth_half += part * bore_growth_per_f(material.alpha_half_width_per_f, poisson, restraint)

        def stretched(run: Segment, modulus: float = modulus, poisson: float = poisson) -> float:
            wall = wall_give_per_psi(run.bore_in, run.wall_in, modulus, poisson, restraint)
            return run.volume_in3 * wall

        own = stretched(segment)
        give += own
        thin = stretched(_with_wall(segment, -segment.wall_half_width_in))
        thick = stretched(_with_wall(segment, segment.wall_half_width_in))
        give_off += math.hypot((thin - thick) / 2, own * slow.modulus_share) / math.sqrt(3)
        stretch += own * (slow.stretch_low + slow.stretch_high) / 2
        stretch_half += own * (slow.stretch_high - slow.stretch_low) / 2
    return ShutInLine(
        volume,
        growth / volume,
        growth_half / volume,
        give / volume,
        give_off / give,
        stretch / volume,
        stretch_half / volume,
    )


def _with_wall(segment: Segment, more_in: float) -> Segment:
    """The same outside with a wall ``more_in`` thicker."""
    if not more_in:
        return segment
    bore, wall = segment.bore_in - 2 * more_in, segment.wall_in + more_in
    return Segment(segment.name, segment.material, bore, wall, segment.length_ft)


def pressure_after_heat(
    line: ShutInLine,
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
    line : ShutInLine
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
    >>> pipe = ShutInLine(12_080.0, 8.28e-5, 1.1e-5, 3.362e-5)
    >>> round(pressure_after_heat(pipe, 100.0, 68.0, 78.0), 1)
    113.1
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
