"""Pressure tests: planning one, watching the gauge, and judging what it said."""

from __future__ import annotations

from fieldkit.engine.pressure_test.plan import LinePlan, plan_line
from fieldkit.engine.pressure_test.verdict import LineVerdict, judge_line
from fieldkit.flows.flow import Flow
from fieldkit.flows.pressure_test.plan_questions import PLAN_FLOW
from fieldkit.flows.pressure_test.request import read_held_line, read_plan
from fieldkit.flows.pressure_test.verdict_questions import PROVE_FLOW
from fieldkit.typed.request import Request

FLOWS: tuple[Flow, ...] = (PLAN_FLOW, PROVE_FLOW)


def ask_plan_test(request: Request) -> LinePlan:
    """How high and how long to test a line, in what order, and whether it may be tested yet."""
    return plan_line(read_plan(request))


def ask_judge_test(request: Request) -> LineVerdict:
    """Whether a line that was shut in under pressure holds, leaks, or must be tested again."""
    return judge_line(read_held_line(request))
