"""Pressure tests: planning one, watching the gauge, and judging what it said."""

from __future__ import annotations

from fieldkit.engine.proving.plan import LinePlan, plan_line
from fieldkit.engine.proving.verdict import LineVerdict, judge_line
from fieldkit.flows.proving_plan import PLAN_FLOW
from fieldkit.flows.proving_reading import read_held_line, read_plan
from fieldkit.flows.proving_verdict import PROVE_FLOW
from fieldkit.flows.request import Request
from fieldkit.flows.step import Flow

FLOWS: tuple[Flow, ...] = (PLAN_FLOW, PROVE_FLOW)


def ask_plan_test(request: Request) -> LinePlan:
    """How high and how long to test a line, in what order, and whether it may be tested yet."""
    return plan_line(read_plan(request))


def ask_judge_test(request: Request) -> LineVerdict:
    """Whether a line that was shut in under pressure holds, leaks, or must be tested again."""
    return judge_line(read_held_line(request))
