"""An answer that stops the work: the flow ends there, with what to do and whom to call.

An option, or the way out of a step, names a row of stops.csv. Every flow looks here, so no flow
has a check of its own. The joint keeps the stop as a fact until the question is answered anew.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import Text, say
from fieldkit.engine.working import Answer
from fieldkit.flows.block import Block, Notes, Steps
from fieldkit.flows.question import CANT_TELL, Choice, Step
from fieldkit.tables.cautions import stops

#: The fact that keeps why the work on a joint was stopped.
STOP_FACT = "site.stop"

#: The verdict of a flow that was stopped.
STOPPED = "stop"


@dataclass(frozen=True, kw_only=True, slots=True)
class Stopped(Answer):
    """Why the work was stopped, what to do at once, and whom to call."""

    stop: str
    do: tuple[Text, ...]
    call: tuple[Text, ...]


def may_lift(steps: Iterable[Step]) -> bool:
    """Whether a stop is asked about among these steps, so that another answer takes it away.

    A step whose way out alone stops the work asks about that one danger; it lifts nothing.
    """
    return any(isinstance(s.kind, Choice) and any(o.stops for o in s.kind.options) for s in steps)


def stop_given(steps: Iterable[Step], given: Mapping[str, Any]) -> str:
    """The id of the stop that an answer means; empty where none does."""
    for step in steps:
        if step.id not in given:
            continue
        value = given[step.id]
        if value is CANT_TELL:
            if step.out_stops:
                return step.out_stops
        elif isinstance(step.kind, Choice):
            found = next((o.stops for o in step.kind.options if o.value == value), "")
            if found:
                return found
    return ""


def stopped(stop: str) -> Stopped:
    """The answer of a flow that was stopped.

    Examples
    --------
    >>> stopped("electricity").call[0]
    'A licensed electrician, before anybody reaches in.'
    """
    row = stops()[stop]
    return Stopped(
        verdict=STOPPED,
        headline=say(row.headline),
        stop=stop,
        do=tuple(map(say, row.do)),
        call=tuple(map(say, row.call)),
    )


def refusal(stop: str) -> Problem:
    """Why a flow that cannot take the stop away goes no further, and what does."""
    row = stops().get(stop)
    if row is None:  # a newer version wrote it: the work stays stopped all the same
        return Problem(
            "",
            "",
            say("The work on this joint was stopped, by a version that is newer than this one."),
            say("Do not go on. Open the joint in that version to read why."),
        )
    return Problem(
        "",
        "",
        say(row.headline),
        say(
            "Call: {whom} Once it is safe, answer “{first}” under “{leaks}” or “{off}”.",
            whom=say(row.call[0]),
            first=say("First make it safe"),
            leaks=say("It is leaking"),
            off=say("It popped off"),
        ),
    )


def stop_blocks(answer: Mapping[str, Any]) -> tuple[Block, ...]:
    """What to do and whom to call; nothing else stands on such a page."""
    return (
        Steps(say("What to do now"), tuple(answer["do"])),
        Notes(say("Whom to call"), tuple(answer["call"])),
    )
