"""Plausible answers to any step, for walks through a flow that nobody planned."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import suppress
from random import Random

from fieldkit.engine.problems import Problem
from fieldkit.flows.catalogue import flows
from fieldkit.flows.forms import read_answer
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


# ── Every option once, without pages ─────────────────────────────────────────────────────────

#: What a joint's log may know before a flow is begun: questions depend on it.
STARTS: tuple[dict[str, object], ...] = (
    {},
    {"parts.joints": ["solvent_socket", "npt", "barb_clamped"], "pipe.nominal": "3/4"},
    {"parts.joints": ["hose", "ring"], "tube.od_in": 0.7, "tube.bore_in": 0.6},
    {"parts.joints": ["saddle", "collar"], "pipe.nominal": "1", "site.pressure_psi": 40.0},
    {"leak.cause": "barb_no_clamp", "leak.joint": "barb", "test.verdict": "leaks"},
    {"leak.cause": "insufficient_cure", "leak.joint": "solvent_socket"},
    {"leak.cause": "barb_no_clamp", "leak.joint": "barb", "leak.mended_at": "2026-05-01T09:00Z"},
)

AT = "2026-05-01T10:{:02}:00.000Z"


def options_of(step) -> list[object]:
    """What a step offers: its options by their values, and None for its way out."""
    if isinstance(step.kind, Confirm):
        return [True, None] if step.out_stops else [True]
    offered = [one.value for one in step.kind.options] if hasattr(step.kind, "options") else [True]
    return [*offered, *([None] if step.cant_tell else [])]


def _goes_on(step, option: object) -> bool:
    """Whether the flow goes on after that option: it does not stop the work."""
    if option is None:
        return not step.out_stops
    return not any(one.value == option and one.stops for one in getattr(step.kind, "options", ()))


def value_of(step, option: object, chance: Random) -> object:
    """What is understood where ``option`` is taken; plausible where there is nothing to take."""
    if option is None or isinstance(step.kind, Confirm | Choice):
        return option
    if isinstance(step.kind, Several):
        return [option]
    read = None
    while read is None:
        form = some_answer(step, chance)
        if form["answer"] != "cant-tell":
            with suppress(Problem):  # a plausible length that this box does not take
                read = read_answer(step, {key: [str(one)] for key, one in form.items()})
    if isinstance(step.kind, Series):
        return [{**read, "at": AT.format(20 * n)} for n in range(3)]
    return read


def walk_through(flow, facts, tried: dict, chance: Random) -> dict[str, object]:
    """Answers to the end of a flow, taking what was not tried yet where there is a choice.

    ``tried`` gathers by step what was offered and not taken yet.
    """
    given: dict[str, object] = {}
    for _ in range(80):
        step = flow.next_step(given, facts)
        if step is None:
            return given
        left = tried.setdefault(step.id, set(options_of(step)))
        onward = [one for one in options_of(step) if _goes_on(step, one)]
        option = chance.choice(sorted(left, key=str) or onward)
        left.discard(option)
        given[step.id] = value_of(step, option, chance)
    raise AssertionError(f"{flow.id} does not end: {list(given)}")


def every_answer(chance: Random, walks: int = 6) -> Iterator[tuple[str, dict, dict]]:
    """Of each flow one answer for each of its verdicts: the flow, what was said, the answer.

    A joint that was run and looked at is one of its own beside one that was tested.
    """
    for flow in flows().values():
        met, tried = set(), {}
        for start in STARTS * walks:
            facts = {**start, "now": AT.format(0)}
            given = walk_through(flow, facts, tried, chance)
            with suppress(Problem):
                answer = flow.work_out(flow.relevant(given, facts), facts).as_json()
                kind = answer["verdict"], bool(given.get("watched"))
                if kind not in met:
                    met.add(kind)
                    yield flow.id, given, answer
