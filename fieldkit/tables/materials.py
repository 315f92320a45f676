"""Materials and their loss of strength with heat."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from fieldkit.tables.load import load


@dataclass(frozen=True, slots=True)
class Material:
    """One pipe or tube material; empty where a figure was not collected.

    Three moduli for a slow load, because polyethylene creeps: ``modulus_psi`` of the first
    minutes, ``modulus_hours_psi`` and ``modulus_low_psi`` the stiff and the soft end after
    hours. ``dynamic_modulus_psi`` is the one for surge.
    """

    id: str
    name: str
    density_class: str
    design_stress_psi: float | None
    modulus_psi: float | None
    modulus_hours_psi: float | None
    modulus_low_psi: float | None
    dynamic_modulus_psi: float | None
    poisson: float | None
    alpha_per_f: float
    alpha_half_width_per_f: float
    heat: str
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


TABLES: dict[str, type] = {"materials": Material, "heat_factors": HeatFactor, "water": Water}


@cache
def materials() -> dict[str, Material]:
    """All materials by id."""
    return {row.id: row for row in load("materials", Material)}


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
