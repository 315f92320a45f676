"""The calculations by name: one request and one answer shape for page, API and command line."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping
from importlib import import_module

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import say
from fieldkit.engine.working import Answer
from fieldkit.flows.stops import CARRIED, LOOKING, refuse_carried
from fieldkit.typed.request import Request

#: name → the flows module whose ``ask_NAME(request)`` reads the request and runs the engine.
CALCULATIONS: Mapping[str, str] = {
    "measure": "measuring.questions",
    "identify": "identifying.questions",
    "transition": "choosing.request",
    "join": "joining.request",
    "thread": "joining.thread_request",
    "plan_test": "pressure_test.request",
    "judge_test": "pressure_test.request",
    "friction": "hydraulics.answer_requests",
    "lateral": "hydraulics.answer_requests",
    "surge": "hydraulics.answer_requests",
    "hold": "hydraulics.answer_requests",
    "diagnose": "diagnosing.request",
}


def calculation(name: str) -> Callable[[Request], Answer]:
    """The function that answers the calculation ``name``.

    Raises
    ------
    Problem
        No calculation has that name.
    """
    if name not in CALCULATIONS:
        raise Problem(
            "name",
            name[:80],
            say("There is no calculation of that name."),
            say("Choose one of: {names}.", names=", ".join(CALCULATIONS)),
        )
    room = import_module(f"fieldkit.flows.{CALCULATIONS[name]}")
    found: Callable[[Request], Answer] = getattr(room, f"ask_{name}")
    return found


def calculate(name: str, body: object) -> Answer:
    """Answer a request, and say so when part of it was not used.

    Raises
    ------
    Problem
        It cannot be answered, or it carries a pipe that nothing may be joined to.
    """
    ask = calculation(name)
    request = Request(body)
    if name not in LOOKING:
        refuse_carried(body)
    answer = ask(request)
    stray = [key for key in request.unused() if key.rpartition(".")[2] not in CARRIED]
    if not stray:
        return answer
    note = say(
        "Not used, because this calculation does not ask for it: {keys}.",
        keys=", ".join(key[:40] for key in stray[:10]),
    )
    return dataclasses.replace(answer, cautions=(*answer.cautions, note))
