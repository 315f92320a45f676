"""Materials and their loss of strength with heat."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from fieldkit.tables.load import load


@dataclass(frozen=True, slots=True)
class Material:
    """One pipe or tube material; empty where a figure was not collected.

    ``modulus_psi`` is for a slow load, in its first minutes and at 73 °F; ``SlowStretch`` says
    how far that spreads and how a wall goes on stretching. ``dynamic_modulus_psi`` is for surge.
    """

    id: str
    name: str
    design_stress_psi: float | None
    modulus_psi: float | None
    dynamic_modulus_psi: float | None
    poisson: float | None
    alpha_per_f: float
    alpha_half_width_per_f: float
    heat: str
    source: str
    status: str
    note: str


@dataclass(frozen=True, slots=True)
class SlowStretch:
    """How a wall gives under a steady pressure.

    ``modulus_share`` is the half width of the modulus as a share of it; ``modulus_fall_per_f``
    the share of it that is lost for each °F above 73. ``stretch_low`` and ``stretch_high`` are
    the share by which the give of the wall grows each time the minutes under pressure grow
    tenfold.
    """

    material: str
    modulus_share: float
    modulus_fall_per_f: float
    stretch_low: float
    stretch_high: float
    source: str
    status: str
    note: str


@dataclass(frozen=True, slots=True)
class HeatFactor:
    """Share of the 73 °F rating left at a temperature."""

    heat: str
    temperature_f: float
    factor: float
    source: str
    status: str
    note: str


@dataclass(frozen=True, slots=True)
class Water:
    """Ordinary water at 100 psig."""

    temperature_f: float
    density_kg_m3: float
    bulk_modulus_psi: float
    expansion_per_f: float
    kinematic_viscosity_m2_s: float
    source: str
    status: str


TABLES: dict[str, type] = {
    "materials": Material,
    "slow_stretch": SlowStretch,
    "heat_factors": HeatFactor,
    "water": Water,
}


@cache
def materials() -> dict[str, Material]:
    """All materials by id."""
    return {row.id: row for row in load("materials", Material)}


@cache
def slow_stretch() -> dict[str, SlowStretch]:
    """How each material's wall gives, by the id of the material."""
    return {row.material: row for row in load("slow_stretch", SlowStretch)}


@cache
def heat_factors() -> dict[str, tuple[HeatFactor, ...]]:
    """Rows of each heat series, coolest first."""
    rows = sorted(load("heat_factors", HeatFactor), key=lambda row: row.temperature_f)
    return {
        series: tuple(row for row in rows if row.heat == series)
        for series in dict.fromkeys(row.heat for row in rows)
    }


@cache
def water() -> tuple[Water, ...]:
    """The water grid, coldest first."""
    return tuple(sorted(load("water", Water), key=lambda row: row.temperature_f))
