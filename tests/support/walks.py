"""Plausible answers to any step, for walks through a flow that nobody planned."""

from __future__ import annotations

from random import Random

from fieldkit.flows.question import (
    Choice,
    Confirm,
    Group,
    Quantity,
    Readings,
    Series,
    Several,
    Whole,
)

PLAUSIBLE = {
    "in": ("0.700 in", "0.620", "17.8 mm", "0.840", "1.050 in"),
    "ft": ("40 ft", "120 ft", "10 m"),
    "psi": ("25 psi", "60 psi", "2 bar"),
    "°F": ("70 F", "95 F", "10 °C"),
    "min": ("0 min", "2 h"),
    "gpm": ("2 gpm",),
    "gph": ("1 gph",),
}


def some_answer(step, chance: Random) -> dict[str, object]:
    """One answer that a person could give to ``step``, or the way out."""
    kind = step.kind
    if chance.random() < 0.25:
        return {"answer": "cant-tell"}
    match kind:
        case Confirm():
            return {"answer": "give"}
        case Choice():
            return {"answer": "give", "value": chance.choice(kind.options).value}
        case Several():
            picked = [o.value for o in kind.options if chance.random() < 0.4]
            return {"answer": "give", "value": picked}
        case Quantity():
            usual = [typed for typed, _ in kind.common] or list(PLAUSIBLE.get(kind.unit, ("1",)))
            return {"answer": "give", "value": chance.choice(usual)}
        case Readings():
            return {
                "answer": "give",
                **{f"value-{i}": chance.choice(PLAUSIBLE[kind.unit]) for i in range(2)},
            }
        case Group() | Series():
            boxes = {
                f"value-{name}": chance.choice(PLAUSIBLE.get(unit, ("1",)))
                for name, _, unit in kind.parts
            }
            last = isinstance(kind, Series) and chance.random() < 0.4
            button = "finish" if last else "add" if isinstance(kind, Series) else "give"
            return {"answer": button, **boxes}
        case Whole():
            return {"answer": "give", "value": str(chance.randint(kind.at_least, 5))}
        case _:
            return {"answer": "give", "value": "a few words"}
