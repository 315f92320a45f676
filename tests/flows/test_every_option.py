"""Every option of every step of every flow is taken, and every answer is laid out whole."""

from __future__ import annotations

import typing
from dataclasses import dataclass
from functools import cache
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


@dataclass(frozen=True)
class Walked:
    """What the walks through a flow came to; ``untried`` by step, ``shown`` kinds of block."""

    asked: frozenset[str]
    untried: dict[str, set]
    answered: int
    shown: frozenset[type]


def laid_out(flow, given, facts) -> tuple[Block, ...]:
    """What an answer shows, laid out as pages do; nothing where there is no answer."""
    try:
        answer = flow.work_out(flow.relevant(given, facts), facts).as_json()
    except Problem:
        return ()
    blocks = flow.blocks(answer)
    html = render_template_string(
        "{% from 'parts/blocks.html' import show %}{{ show(blocks, '/', 'e', '') }}", blocks=blocks
    )
    assert html.count("<") == html.count(">")
    flow.learn(given, answer)
    return blocks


@pytest.fixture(scope="module")
def walked():
    """Walks through the flow of a name until every option was taken: once for all tests."""
    app = make_app(None, testing=True)

    @cache
    def walk(name: str) -> Walked:
        flow, chance = flows()[name], Random(name)  # noqa: S311  -- a repeatable walk, not a secret
        tried: dict[str, set] = {}
        answered, shown = 0, set()
        with app.test_request_context("/"):
            for _ in range(MOST_WALKS):
                for start in STARTS:
                    facts = {**start, "now": NOW}
                    given = walk_through(flow, facts, tried, chance)
                    blocks = laid_out(flow, given, facts)
                    answered += bool(blocks)
                    shown.update(map(type, blocks))
                if answered and not any(tried.values()):
                    break
        untried = {step: left for step, left in tried.items() if left}
        return Walked(frozenset(tried), untried, answered, frozenset(shown))

    yield walk
    app.extensions["joblog"].close()


@pytest.mark.parametrize("name", list(flows()))
def test_every_option_is_taken_and_each_answer_is_laid_out(walked, name):
    flow, found = flows()[name], walked(name)
    if flow.choose_next is None:  # else what is asked depends on what was answered
        # What is folded is asked beside others only, and the safe side is taken without it.
        never = {step.id for step in flow.steps if not step.folded} - found.asked
        assert never == NEVER_ASKED.get(name, set())
    # What depends on what was answered may come up once only in so many walks.
    assert len(found.untried) <= (flow.choose_next is not None), found.untried
    assert found.answered


def test_every_kind_of_block_was_shown(walked):
    shown = {kind for name in flows() for kind in walked(name).shown}
    assert set(typing.get_args(Block)) <= shown
