"""Every option of every step of every flow is taken, and every answer is laid out whole."""

from __future__ import annotations

import typing
from random import Random

import pytest
from flask import render_template_string
from support.walks import STARTS, walk_through

from fieldkit.app import make_app
from fieldkit.engine.problems import Problem
from fieldkit.flows.block import Block
from fieldkit.flows.catalogue import flows

NOW = "2026-05-01T12:00:00.000Z"
#: Walks from each start before a flow is given up on.
MOST_WALKS = 120
#: Steps that a change on an answer's page answers, and no question.
NEVER_ASKED = {"choose": {"regulator"}}
SHOWN: set[type] = set()


@pytest.fixture(scope="module")
def client():
    app = make_app(None, testing=True)
    yield app
    app.extensions["joblog"].close()


def laid_out(flow, given, facts) -> bool:
    """Whether there was an answer to lay out, as pages do."""
    try:
        answer = flow.work_out(flow.relevant(given, facts), facts).as_json()
    except Problem:
        return False
    blocks = flow.blocks(answer)
    SHOWN.update(map(type, blocks))
    html = render_template_string(
        "{% from 'parts/blocks.html' import show %}{{ show(blocks, '/', 'e', '') }}", blocks=blocks
    )
    assert html.count("<") == html.count(">")
    flow.learn(given, answer)
    return True


@pytest.mark.parametrize("name", list(flows()))
def test_every_option_is_taken_and_each_answer_is_laid_out(client, name):
    flow, chance = flows()[name], Random(name)  # noqa: S311  -- a repeatable walk, not a secret
    tried: dict[str, set] = {}
    answered = 0
    with client.test_request_context("/"):
        for _ in range(MOST_WALKS):
            for start in STARTS:
                facts = {**start, "now": NOW}
                given = walk_through(flow, facts, tried, chance)
                answered += laid_out(flow, given, facts)
            if answered and not any(tried.values()):
                break
    if flow.choose_next is None:  # else what is asked depends on what was answered
        # What is folded is asked beside others only, and the safe side is taken without it.
        never = {step.id for step in flow.steps if not step.folded} - set(tried)
        assert never == NEVER_ASKED.get(name, set())
    untried = {step: left for step, left in tried.items() if left}
    # What depends on what was answered may come up once only in so many walks.
    assert len(untried) <= (flow.choose_next is not None), untried
    assert answered


def test_every_kind_of_block_was_shown():
    assert set(typing.get_args(Block)) <= SHOWN
