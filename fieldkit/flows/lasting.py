"""Will it last: loss, longest run, surge, and what each joint holds."""

from __future__ import annotations

from fieldkit.flows.lasting_asks import ask_friction, ask_hold, ask_lateral, ask_surge
from fieldkit.flows.step import Flow

FLOWS: tuple[Flow, ...] = ()

__all__ = ["FLOWS", "ask_friction", "ask_hold", "ask_lateral", "ask_surge"]
