"""What the plan of a test and its verdict both ask: the rigid pipe of the job."""

from __future__ import annotations

from typing import Any

from fieldkit.engine.pipes import rigid_pvc
from fieldkit.engine.problems import Problem
from fieldkit.engine.words import say
from fieldkit.engine.working import Line
from fieldkit.flows.pipe_asks import class_options, size_options
from fieldkit.flows.pressure_test.request import owned_line
from fieldkit.flows.question import Choice, Known, Step
from fieldkit.tables.pipes import Pipe, ips_pvc, pipes

NOMINAL = Step(
    "nominal",
    "What size is the rigid pipe?",
    Choice(size_options()),
    trade="nominal size",
    why="Size and wall tell how much pressure the pipe may see and how much water it holds.",
    hint="Read the print on the pipe. The size is a name, not what a ruler shows.",
    fact="pipe.nominal",
    short="Size",
)
PIPE_CLASS = Step(
    "class",
    "Which wall does it have?",
    Choice(class_options()),
    trade="schedule or SDR",
    why="A thicker wall holds more and gives less.",
    hint="It is printed along the pipe.",
    fact="pipe.class",
    cant_tell="I can’t tell: take the weakest",
    sources=("astm-d2241",),
    short="Wall",
)


def told(step: Step, given: Known, facts: Known) -> Any:
    """What the person said, else what the log knows; None where neither tells."""
    return given[step.id] if step.id in given else facts.get(step.fact)


def rigid_of(given: Known, facts: Known, owned: list[Line]) -> Pipe:
    """The rigid pipe of the job; the weakest of its size where the wall is not known."""
    nominal, pipe_class = told(NOMINAL, given, facts), told(PIPE_CLASS, given, facts)
    if nominal is None:
        raise Problem(
            "nominal",
            None,
            say("Without the pipe’s size this cannot be worked out."),
            say("Measure the rigid pipe first, or read the print on it."),
        )
    known = pipes().get(str(facts.get("pipe.id") or ""))
    if known is not None and "nominal" not in given and "class" not in given:
        return known
    if pipe_class is None:
        weakest = min(
            (pipe for (size, _), pipe in ips_pvc().items() if size == nominal),
            key=lambda pipe: pipe.wall_in or 0.0,
            default=None,
        )
        if weakest is not None:
            owned.append(
                owned_line(say("thinnest wall sold"), weakest.name, weakest.source, weakest.status)
            )
            return weakest
    try:
        return rigid_pvc(str(nominal), str(pipe_class), "pipe")
    except Problem as found:
        raise found.at(found.field.removeprefix("pipe.")) from None


def learn_pipe(given: Known) -> dict[str, Any]:
    """What the joint gains when the person named the rigid pipe here: never asked again."""
    nominal, pipe_class = given.get("nominal"), given.get("class")
    pipe = ips_pvc().get((str(nominal), str(pipe_class)))
    if pipe is None:
        return {}
    return {
        "pipe.id": pipe.id,
        "pipe.name": pipe.name,
        "pipe.family": pipe.family,
        "pipe.material": pipe.material,
        "pipe.nominal": pipe.nominal,
        "pipe.class": pipe.pipe_class,
    }
