"""Will it last: loss, longest run, surge, and what each joint holds."""

from __future__ import annotations

from fieldkit.flows.flow import Flow
from fieldkit.flows.hydraulics.answer_requests import ask_friction, ask_hold, ask_lateral, ask_surge
from fieldkit.flows.hydraulics.joint_questions import HOLD_FLOW, SURGE_FLOW
from fieldkit.flows.hydraulics.line_questions import LONGEST_FLOW, LOSS_FLOW

FLOWS: tuple[Flow, ...] = (HOLD_FLOW, SURGE_FLOW, LOSS_FLOW, LONGEST_FLOW)

__all__ = ["FLOWS", "ask_friction", "ask_hold", "ask_lateral", "ask_surge"]
