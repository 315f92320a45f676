"""Every guided flow by id, gathered from the modules that declare them."""

from __future__ import annotations

from functools import cache
from importlib import import_module

from fieldkit.flows.flow import Flow

#: The modules that declare a ``FLOWS`` tuple, in the order of the job.
MODULES = (
    "measuring.questions",
    "identifying.questions",
    "choosing.questions",
    "joining.cement_questions",
    "joining.tube_questions",
    "joining.part_questions",
    "joining.thread_questions",
    "pressure_test.plan_questions",
    "pressure_test.verdict_questions",
    "diagnosing.questions",
    "diagnosing.mend",
    "hydraulics.joint_questions",
    "hydraulics.line_questions",
    "hydraulics.size_line",
    "hydraulics.riser",
)


@cache
def flows() -> dict[str, Flow]:
    """All flows by id.

    Raises
    ------
    ValueError
        Two flows share an id.
    """
    found: dict[str, Flow] = {}
    for name in MODULES:
        for flow in import_module(f"fieldkit.flows.{name}").FLOWS:
            if flow.id in found:
                raise ValueError(f"two flows are called {flow.id!r}")
            found[flow.id] = flow
    return found
