"""A joint's whole way, flow after flow: what its log holds is not asked again."""

from __future__ import annotations

from random import Random

import pytest
from browser.effort_runs import matter_of
from support.walks import value_of

from fieldkit.engine.problems import Problem
from fieldkit.flows.catalogue import flows
from fieldkit.flows.facts import shared
from fieldkit.flows.forms import read_answer
from fieldkit.flows.question import Choice, Confirm

NOW = "2026-05-01T12:00:00.000Z"

#: Each way is one person's errands, in the order in which pages lead on.
WAYS = (
    ("measure-pipe", "identify-pipe", "measure-tube", "identify-tube", "choose", "join-thread",
     "join-cement", "join-tube", "plan-test", "prove", "hold"),
    ("leak-now", "mend", "join-thread", "plan-test", "prove", "leak-now"),
    ("popped-off", "mend", "join-tube", "plan-test", "hold", "choose"),
    ("riser-to-tube", "join-thread", "join-tube", "plan-test", "prove"),
)  # fmt: skip

#: Asked though the log holds it, and why.
ANEW = {"join-thread.kind": "the size of a thread was told, not its kind"}

#: What a question is about → the facts of all questions about it.
FACTS_OF: dict[str, set[str]] = {}
for _flow in flows().values():
    for _step in _flow.steps:
        if _step.fact:
            FACTS_OF.setdefault(matter_of(f"{_flow.id}.{_step.id}"), set()).add(_step.fact)


def asked_again(flow, facts, chance) -> tuple[dict, set[str]]:
    """Answers to the end of a flow, and what was asked on the way though the log holds it."""
    given: dict[str, object] = {}
    again: set[str] = set()
    for _ in range(80):
        step = flow.next_step(given, facts)
        if step is None:
            return given, again
        for one in flow.page(step, given, facts):
            held = FACTS_OF.get(matter_of(f"{flow.id}.{one.id}"), set())
            known = [fact for fact in sorted(held) if facts.get(fact) is not None]
            if known and not one.folded and not one.proposed(facts):
                again.add(f"{flow.id}.{one.id}, though {known[0]} is known")
        given[step.id] = answer_to(step, chance)
    raise AssertionError(f"{flow.id} does not end")


def answer_to(step, chance):
    """An answer that does not stop the work; seldom none at all."""
    if isinstance(step.kind, Confirm):
        return True
    if isinstance(step.kind, Choice):
        return chance.choice([one.value for one in step.kind.options if not one.stops])
    options = getattr(step.kind, "options", ())
    return value_of(step, chance.choice(options).value if options else True, chance)


@pytest.mark.parametrize("way", WAYS, ids=lambda way: way[0])
def test_what_the_log_holds_is_not_asked_again(way):
    found: set[str] = set()
    for seed in range(20):
        chance = Random(seed)  # noqa: S311  -- a repeatable walk, not a secret
        facts: dict[str, object] = {"now": NOW}
        for name in way:
            flow = flows()[name]
            given, again = asked_again(flow, facts, chance)
            found |= again
            try:
                answer = flow.work_out(flow.relevant(given, facts), facts).as_json()
            except Problem:
                continue
            facts |= flow.learn(given, answer)
    assert not {one for one in found if one.partition(",")[0] not in ANEW}


def test_how_cold_it_is_stands_in_the_box_of_the_next_joint_of_this_hour():
    flow = flows()["join-cement"]
    told = {"size": "1/2", "wall": "Sch 40", "temperature": 50.0, "one_step": "two"}
    answer = flow.work_out(told | {"dry_fit": "snug"}, {"now": NOW}).as_json()
    next_one = shared(flow.learn(told, answer))
    step = flow.step("temperature")
    soon = next_one | {"now": NOW.replace("12:00", "12:40")}
    assert read_answer(step, step.proposed(soon)) == 50.0
    assert "weld.temperature_f" not in soon  # what was made there is no fact here
    assert step.proposed(next_one | {"now": NOW.replace("12:00", "13:40")}) == {}
