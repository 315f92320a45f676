"""What cannot be told is said at once or gone on without; a refusal offers what would work."""

from __future__ import annotations

from random import Random

import pytest
from support.walks import STARTS, walk_through

from fieldkit.engine.problems import Problem
from fieldkit.flows.catalogue import flows
from fieldkit.flows.forms import read_answer

NOW = "2026-05-01T12:00:00.000Z"


def walks(flow, seed: str, times: int):
    """Walks through a flow from each start: what was answered in the end, and the facts."""
    chance = Random(seed)  # noqa: S311  -- a repeatable walk, not a secret
    tried: dict[str, set] = {}
    for _ in range(times):
        for start in STARTS:
            facts = {**start, "now": NOW}
            given = walk_through(flow, facts, tried, chance)
            yield flow.relevant(given, facts), facts


def refusal(flow, given, facts) -> Problem | None:
    """The sentence in place of an answer, where there is none."""
    try:
        flow.work_out(given, facts)
    except Problem as found:
        return found
    return None


def page_by_page(flow, given, facts):
    """The answers after each page of a walk."""
    so_far: dict[str, object] = {}
    while (step := flow.next_step(so_far, facts)) is not None and step.id in given:
        so_far |= {
            one.id: given[one.id] for one in flow.page(step, so_far, facts) if one.id in given
        }
        yield dict(so_far)


@pytest.mark.parametrize("name", list(flows()))
def test_what_is_left_open_is_never_refused_on_a_later_page(name):
    """The flow goes on without it, or the page itself says what is missing and how to get it."""
    flow = flows()[name]
    for given, facts in walks(flow, name, 12):
        found = refusal(flow, given, facts)
        if found is None or found.field not in given or given[found.field] is not None:
            continue
        assert found.instead, "says how to get it"
        left = next(after for after in page_by_page(flow, given, facts) if found.field in after)
        at_once = flow.doomed(left, facts)
        assert at_once is not None, (found.field, given)
        assert at_once.field in left


#: Share of refusals that no change of one to three answers mends; those say so and lead elsewhere.
_UNMENDED = {"choose": 0.05, "hold": 0.05, "size-line": 0.05, "join-thread": 0.1}


@pytest.mark.parametrize("name", [name for name, flow in flows().items() if flow.refusals])
def test_a_refusal_offers_the_nearest_change_and_the_change_works(name):
    flow = flows()[name]
    refused = unmended = 0
    for given, facts in walks(flow, name, 12):
        found = refusal(flow, given, facts)
        if found is not None:
            varied = found.field in flow.refusals.get("", ()) and given.get(found.field)
            if not varied or refusal(flow, {**given, found.field: None}, facts):
                continue  # something else is wrong as well
        answer = None if found else flow.work_out(given, facts)
        if answer is not None and answer.verdict not in flow.refusals:
            continue
        refused += 1
        changes = flow.offers(answer and answer.as_json(), given, facts)
        unmended += not changes
        assert changes or found or flow.otherwise, "says what leads on"
        for change in changes:
            changed = {
                step: read_answer(flow.step(step), {"value": list(typed)})
                for step, typed in change.typed
            }
            after = flow.work_out(flow.relevant({**given, **changed}, facts), facts)
            assert answer is None or after.verdict not in flow.refusals
    assert unmended <= refused * _UNMENDED.get(name, 0)


def test_the_nearest_length_of_a_line_that_is_too_long_is_near_the_longest():
    """Against the engine's own longest run: the offer lies under it, and not far."""
    flow = flows()["longest-run"]
    given = {"bore": 0.6, "outlet_flow": 1.0, "spacing": 12.0, "inlet_pressure": 25.0}
    given |= {"emitter": "plain", "rise": 0.0, "variation": "20", "length": 600.0}
    answer = flow.work_out(given, {})
    assert answer.verdict == "uneven"
    offers = dict(one.typed[0] for one in flow.offers(answer.as_json(), given, {}))
    shorter = read_answer(flow.step("length"), {"value": list(offers["length"])})
    assert 0.75 * answer.max_length_ft < shorter <= answer.max_length_ft
