"""Plausible answers to any step, for walks through a flow that nobody planned."""

from __future__ import annotations

import re
from random import Random

from fieldkit.flows.catalogue import flows
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


def questions_on(page) -> list[tuple[str, object]]:
    """Each question that a page asks, as (id, step), in order."""
    asked = dict.fromkeys(re.findall(r'data-question="([\w-]+)\.(\w+)"', page.html))
    return [(step, flows()[flow].step(step)) for flow, step in asked]


def answer_some(page, chance: Random) -> dict[str, object]:
    """Answers that a person could give to all that a page asks, box by box."""
    asked = questions_on(page)
    if len(asked) == 1:
        return some_answer(asked[0][1], chance)
    given: dict[str, object] = {"answer": "give"}
    for step_id, step in asked:
        one = some_answer(step, chance)
        left = one.pop("answer") == "cant-tell"
        for box in re.findall(rf'name="({step_id}\.[\w-]+)"', page.html):
            given[box] = "" if left else one.get(box.partition(".")[2], "")
    return given
