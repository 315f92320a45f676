"""How likely a set of readings is on each listed pipe: one normal update a reading.

A product has two free sizes, taken as independent normals: its wall, and whichever diameter the
maker controls (outside, or bore). The other diameter follows from them. A tolerance spans a
uniform spread of half-width T, so its variance is T²/3. A reading is the size plus a normal
error. Because both sizes update together, an outside and a bore read on the same piece tell
about its wall, and a second reading of the same thing is never counted as news.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cache
from typing import Literal, NamedTuple

from fieldkit.tables.other_kinds import OtherKind, kind_of_family
from fieldkit.tables.pipes import Pipe, pipes

Size = Literal["od", "wall", "bore"]

_LOG_2_PI = math.log(2 * math.pi)


@dataclass(frozen=True, slots=True)
class Reading:
    """One measured size: ``value_in`` with standard uncertainty ``u_in``. [in]"""

    size: Size
    value_in: float
    u_in: float


class Belief(NamedTuple):
    """Normal belief about (controlled diameter, wall): means, variances, covariance. [in, in²]"""

    diameter: float
    wall: float
    var_diameter: float
    var_wall: float
    covariance: float = 0.0


#: How a size is made from (controlled diameter, wall): two factors.
BY_OUTSIDE: dict[Size, tuple[float, float]] = {
    "od": (1.0, 0.0),
    "wall": (0.0, 1.0),
    "bore": (1.0, -2.0),
}
BY_BORE: dict[Size, tuple[float, float]] = {
    "od": (1.0, 2.0),
    "wall": (0.0, 1.0),
    "bore": (1.0, 0.0),
}


@dataclass(frozen=True, slots=True)
class Product:
    """A row of ``pipes.csv`` as the model sees it, with its outside worked out beforehand."""

    pipe: Pipe
    name: str
    factors: dict[Size, tuple[float, float]]
    belief: Belief
    od_mean: float
    od_var: float
    kind: OtherKind | None

    @property
    def is_gas(self) -> bool:
        """Whether it is gas pipe."""
        return self.kind is not None and self.kind.effect == "gas"

    def may_be_taken_for(self, other: Product) -> bool:
        """Whether taking one for the other would do harm: another kind, or another cement."""
        if self.kind is not other.kind:
            return True
        return self.pipe.rigid and other.pipe.rigid and self.pipe.material != other.pipe.material

    def reads_as(self, readings: tuple[Reading, ...], reach: float) -> bool:
        """Whether each reading lies within ``reach`` standard deviations of this product."""
        for one in readings:
            mean, var = self.expect(self.belief, one.size)
            if (one.value_in - mean) ** 2 > reach**2 * (var + one.u_in**2):
                return False
        return True

    def expect(self, belief: Belief, size: Size) -> tuple[float, float]:
        """Mean and variance of a size under a belief about this product. [in, in²]"""
        a, b = self.factors[size]
        mean = a * belief.diameter + b * belief.wall
        var = a * a * belief.var_diameter + 2 * a * b * belief.covariance + b * b * belief.var_wall
        return mean, var

    def see(self, belief: Belief, reading: Reading) -> tuple[Belief, float]:
        """The belief after a reading, and the log density of that reading before it."""
        a, b = self.factors[reading.size]
        with_diameter = a * belief.var_diameter + b * belief.covariance
        with_wall = a * belief.covariance + b * belief.var_wall
        var = a * with_diameter + b * with_wall + reading.u_in**2
        miss = reading.value_in - a * belief.diameter - b * belief.wall
        gain_diameter, gain_wall = with_diameter / var, with_wall / var
        after = Belief(
            belief.diameter + gain_diameter * miss,
            belief.wall + gain_wall * miss,
            belief.var_diameter - gain_diameter * with_diameter,
            belief.var_wall - gain_wall * with_wall,
            belief.covariance - gain_diameter * with_wall,
        )
        return after, -0.5 * (miss * miss / var + math.log(var) + _LOG_2_PI)


def centre(value: float, minus: float, plus: float) -> tuple[float, float]:
    """Middle and variance of a size that spans ``value − minus`` to ``value + plus``.

    Examples
    --------
    >>> centre(1.0, 0.0, 0.6)
    (1.3, 0.03)
    """
    half = (minus + plus) / 2
    return value + (plus - minus) / 2, half * half / 3


def product(pipe: Pipe) -> Product:
    """The model of one row."""
    od = centre(pipe.od_in, pipe.od_minus_in, pipe.od_plus_in)
    bore = _span(pipe.bore_in, pipe.bore_minus_in, pipe.bore_plus_in)
    wall = _span(pipe.wall_in, pipe.wall_minus_in, pipe.wall_plus_in)
    by_bore = pipe.sized_by == "ID" and bore is not None
    controlled = bore if by_bore and bore is not None else od
    if wall is None:
        # Only hose: its wall is what a loose outside and a bore leave.
        assert bore is not None  # noqa: S101  -- held by tables.pipes.check
        wall = ((od[0] - bore[0]) / 2, max(od[1] - bore[1], 0.0) / 4)
    belief = Belief(controlled[0], wall[0], controlled[1], wall[1])
    factors = BY_BORE if by_bore else BY_OUTSIDE
    made = Product(pipe, pipe.name, factors, belief, 0.0, 0.0, kind_of_family(pipe.family))
    od_mean, od_var = made.expect(belief, "od")
    return replace(made, od_mean=od_mean, od_var=od_var)


def _span(
    value: float | None, minus: float | None, plus: float | None
) -> tuple[float, float] | None:
    if value is None or minus is None or plus is None:
        return None
    return centre(value, minus, plus)


@cache
def products() -> tuple[Product, ...]:
    """Every listed row as a model, in the table's order."""
    return tuple(product(pipe) for pipe in pipes().values())


# ── What is not in the table ────────────────────────────────────────────────────────────────

#: Share of things found at such a joint that no row lists. Ours, stated in each answer.
UNLISTED_SHARE = 0.05

#: Outsides and walls of what is not listed lie anywhere in these spans, evenly by ratio.
UNLISTED_OD_IN = (0.1, 6.0)
UNLISTED_WALL_IN = (0.02, 0.5)


def unlisted_log_density(readings: tuple[Reading, ...]) -> float:
    """Log density of the readings on something that no row lists. [1/in each]

    Outside and wall evenly by ratio over broad spans; a bore evenly between 0.4 and 1 of the
    outside; with outside and wall both read, only the bore that they leave.
    """
    at = {reading.size: reading for reading in readings}
    od, wall, bore = at.get("od"), at.get("wall"), at.get("bore")
    total = 0.0
    if od is not None:
        total -= math.log(od.value_in * math.log(UNLISTED_OD_IN[1] / UNLISTED_OD_IN[0]))
    if wall is not None:
        total -= math.log(wall.value_in * math.log(UNLISTED_WALL_IN[1] / UNLISTED_WALL_IN[0]))
    if bore is not None and od is not None and wall is not None:
        var = od.u_in**2 + 4 * wall.u_in**2 + bore.u_in**2
        miss = bore.value_in - od.value_in + 2 * wall.value_in
        total -= 0.5 * (miss * miss / var + math.log(var) + _LOG_2_PI)
    elif bore is not None and od is not None:
        total -= math.log(0.6 * od.value_in)
    elif bore is not None:
        total -= math.log(bore.value_in * math.log(UNLISTED_OD_IN[1] / UNLISTED_OD_IN[0]))
    return total
