"""Properties of water by temperature, read from one grid by straight lines."""

from __future__ import annotations

from bisect import bisect_right
from functools import cache, lru_cache

from fieldkit.engine.problems import require
from fieldkit.tables.materials import Water, water


@cache
def _columns() -> tuple[tuple[float, ...], tuple[Water, ...]]:
    rows = water()
    return tuple(row.temperature_f for row in rows), rows


@lru_cache(maxsize=1024)
def water_at(temperature_f: float) -> Water:
    """Water at ``temperature_f``, between the rows of ``water.csv`` by straight lines.

    Parameters
    ----------
    temperature_f : float
        Water temperature, 36 to 140. [°F]

    Returns
    -------
    Water
        density [kg/m³], bulk modulus [psi], expansion [1/°F], kinematic viscosity [m²/s].

    Raises
    ------
    OutOfRange
        Outside the grid: colder water may freeze, hotter is not for these pipes.

    Source
    ------
    iapws-95, at 100 psig. Status: computed.

    Examples
    --------
    >>> round(water_at(68.0).density_kg_m3, 1)
    998.5
    """
    grid, rows = _columns()
    require(temperature_f, "temperature", at_least=grid[0], at_most=grid[-1], unit="°F", places=1)
    place = min(bisect_right(grid, temperature_f), len(grid) - 1)
    low, high = rows[place - 1], rows[place]
    share = (temperature_f - low.temperature_f) / (high.temperature_f - low.temperature_f)

    def between(a: float, b: float) -> float:
        return a + (b - a) * share

    return Water(
        temperature_f,
        between(low.density_kg_m3, high.density_kg_m3),
        between(low.bulk_modulus_psi, high.bulk_modulus_psi),
        between(low.expansion_per_f, high.expansion_per_f),
        between(low.kinematic_viscosity_m2_s, high.kinematic_viscosity_m2_s),
        low.source,
        low.status,
    )
