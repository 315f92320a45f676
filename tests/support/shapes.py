"""Values that have the shape asked for and need not mean anything."""

from __future__ import annotations

from random import Random
from typing import Any

from fieldkit.flows.shapes import Either, ListOf, Maybe, Moment, Number, OneOf, Parts, Wording
from fieldkit.tables.fittings import joints

#: Words that mean something somewhere, mostly not here.
_WORDS = ("", "1/2", "3/4", "Sch 40", "SDR 0", "SDR 21", "drip", "found later", "holds", "ips-pvc",
          "leaks", "no", "npt", "pe", "pvc", "strip", "yes", "x" * 80, *joints())  # fmt: skip
_MOMENTS = ("2026-05-01T09:00:00.000Z", "2026-05-02T09:00Z", "2999-12-31T23:59:59Z",
            "2000-01-01T00:00Z", "2026-05-01T09:00+14:00")  # fmt: skip
_SIZES = (0, 1e-9, 1e-6, 0.1, 0.5, 0.62, 0.84, 1.05, 2, 25, 60.0, 100, 1000, 1e6, -1, -40)


def value_like(shape: Any, chance: Random) -> Any:
    """One value of that shape; its edges come up as often as what is usual."""
    match shape:
        case Number(low, high, whole):
            value = chance.choice(
                [*_SIZES, low, high, chance.uniform(0, 3), chance.uniform(0, 200)]
            )
            value = min(max(value, low), high)
            return int(value) if whole else value
        case Wording(limit):
            return chance.choice(_WORDS)[:limit]
        case OneOf(values):
            return chance.choice(values)
        case Moment():
            return chance.choice(_MOMENTS)
        case Maybe(inner):
            return None if chance.random() < 0.2 else value_like(inner, chance)
        case Either(one, other):
            return value_like(chance.choice([one, other]), chance)
        case ListOf(inner):
            return [value_like(inner, chance) for _ in range(chance.choice([0, 1, 2, 3]))]
        case Parts(shapes, needed):
            return {name: value_like(one, chance) for name, one in shapes.items()
                    if name in needed or chance.random() < 0.6}  # fmt: skip
    raise TypeError(f"no values of {shape}")
