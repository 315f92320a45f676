"""Will it last: loss, longest run, surge, and what each joint holds."""

from __future__ import annotations

from fieldkit.flows.lasting_asks import ask_friction, ask_hold, ask_lateral, ask_surge
from fieldkit.flows.lasting_joint import HOLD_FLOW, SURGE_FLOW
from fieldkit.flows.lasting_line import LONGEST_FLOW, LOSS_FLOW
from fieldkit.flows.step import Flow

FLOWS: tuple[Flow, ...] = (HOLD_FLOW, SURGE_FLOW, LOSS_FLOW, LONGEST_FLOW)

__all__ = ["FLOWS", "ask_friction", "ask_hold", "ask_lateral", "ask_surge"]
