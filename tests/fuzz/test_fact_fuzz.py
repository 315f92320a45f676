"""Facts of the right shape that stand for nothing: each flow answers, or says what is wrong.

The log keeps what any phone sent that has the shape of a fact. What it says of the joint may be
anything; the questions go on, and what cannot be worked out is said in a sentence.
"""

from __future__ import annotations

from contextlib import suppress
from random import Random

from support.shapes import value_like
from support.walks import STARTS, options_of, value_of

from fieldkit.engine.problems import Problem
from fieldkit.flows.catalogue import flows
from fieldkit.flows.facts import FACT_SHAPES

NOW = "2026-05-01T10:00:00.000Z"


def some_facts(chance: Random) -> dict[str, object]:
    """A few facts, or half of all, each of its shape."""
    share = chance.choice([0.05, 0.2, 0.5])
    held = {name: value_like(shape, chance) for name, shape in FACT_SHAPES.items()
            if chance.random() < share}  # fmt: skip
    for name, value in held.items():
        assert FACT_SHAPES[name].misfit(value) is None, (name, value)
    held = {name: value for name, value in held.items() if value is not None}
    return {**chance.choice(STARTS), "now": NOW, **held}


def go_through(flow, facts: dict[str, object], chance: Random) -> None:
    """Answer what is asked, by chance; all that a page asks of a flow is asked after each."""
    given: dict[str, object] = {}
    while (step := flow.next_step(given, facts)) is not None:
        flow.doomed(given, facts)
        step.drawing(given, facts)
        step.proposed({**facts, **given})
        step.waits(given, facts)
        given[step.id] = value_of(step, chance.choice(options_of(step)), chance)
    kept, answer = flow.relevant(given, facts), None
    with suppress(Problem):
        answer = flow.work_out(kept, facts).as_json()
        flow.blocks(answer)
        flow.leads_to(answer, facts)
        flow.learn(kept, answer)
    if chance.random() < 0.05:  # slow: it tries every other answer
        flow.offers(answer, kept, facts)


def test_no_facts_stop_a_flow(share):
    for n in range(share(0.03)):
        for name, flow in flows().items():
            chance = Random(f"{n} {name}")  # noqa: S311  -- a repeatable walk, not a secret
            facts = some_facts(chance)
            try:
                go_through(flow, facts, chance)
            except Exception as found:
                found.add_note(f"{name}, round {n}: {facts}")
                raise
