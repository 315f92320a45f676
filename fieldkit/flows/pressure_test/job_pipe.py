"""What the plan of a test and its verdict both ask: the pipe under test, and how it is read."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from fieldkit.engine.pipes import rigid_pvc
from fieldkit.engine.pressure_test.line_stiffness import RESTRAINTS, Restraint
from fieldkit.engine.problems import Problem
from fieldkit.engine.words import Figure, say
from fieldkit.engine.working import Line
from fieldkit.flows.pipe_asks import class_options, size_options
from fieldkit.flows.pressure_test.request import owned_line
from fieldkit.flows.question import Choice, Known, Option, Quantity, Step
from fieldkit.tables.pipes import Pipe, ips_pvc, pipes
from fieldkit.tables.proving_rules import proving_value

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
    folded=True,
)
#: Where the knock of the water is worked out, which a thick wall makes harder.
PIPE_WALL = replace(PIPE_CLASS, folded=False, cant_tell="I can’t tell: take the worst")

LENGTH = Step(
    "length",
    "How much rigid pipe is under test?",
    Quantity("ft", at_least=0.5, at_most=20_000.0, common=("20 ft", "100 ft")),
    trade="length under test",
    cant_tell=say(
        "I can’t tell: take {usual}", usual=Figure(proving_value("unknown_length_ft"), "ft")
    ),
    why="A long line hides a small leak. The length tells how small a leak you could see.",
    fact="test.length_ft",
    short="Rigid pipe under test",
    hint=say(
        "Pace it out: a long step is about {length}. Near enough is good enough.",
        length=Figure(3.0, "ft"),
    ),
)
RESTRAINT = Step(
    "restraint",
    "How does the line lie?",
    Choice(
        (
            Option("buried", "In the ground, covered", "restrained"),
            Option("free", "In the open, or hung up", "free to lengthen"),
            Option("gasketed", "Rubber-ring joints that slip", "gasketed"),
        )
    ),
    trade="restraint",
    why="Pipe held by the ground swells differently with heat.",
    fact="test.restraint",
    cant_tell="I can’t tell: take the worst",
    short="How it lies",
    folded=True,
)
TUBING = Step(
    "tubing",
    "Is flexible tubing under the test pressure too?",
    Choice((Option("yes", "Yes"), Option("no", "No, rigid pipe only"))),
    trade="polyethylene in the line",
    fact="test.tubing",
    short="Is tubing shut in, too?",
    why="Tubing goes on stretching, and the gauge falls without any leak.",
    cant_tell="I can’t tell: take it that there is",
)
DIVISION = Step(
    "division",
    "How fine is the gauge?",
    Quantity(
        "psi", at_least=0.01, at_most=50.0, common=(("1 psi", "1"), ("2 psi", "2"), ("5 psi", "5"))
    ),
    trade="gauge division",
    why="A fall smaller than the marks cannot be seen.",
    hint="The step between two small marks. A digital gauge: its last digit.",
    cant_tell=say(
        "I can’t tell: take {usual}", usual=Figure(proving_value("gauge_division_psi"), "psi")
    ),
    fact="test.gauge_division_psi",
    sources=("trade",),
    short="A mark of the gauge is",
    folded=True,
)
WATER = Step(
    "water",
    "Can you measure the water’s temperature?",
    Choice(
        (
            Option("fine", say("Yes, to {step} or finer", step=Figure(1.0, "°F"))),
            Option("yes", "Yes, on a coarser scale"),
            Option("no", "No"),
        )
    ),
    trade="water temperature",
    why="Water that cools by a few degrees looks just like a leak. Air temperature will not do.",
    hint="Let some run over a thermometer before you shut it in, and again at the end.",
    fact="test.thermometer",
    sources=("trade",),
    short="Can you measure how warm the water is?",
    folded=True,
)
#: Questions that the plan and the verdict share; what one was told, the other does not ask.
_SHARED = (LENGTH, RESTRAINT, TUBING, DIVISION, WATER)


def told(step: Step, given: Known, facts: Known) -> Any:
    """What the person said, else what the log knows; None where neither tells."""
    return given[step.id] if step.id in given else facts.get(step.fact)


def thermometer(known: Known) -> str | None:
    """How the water can be measured: ``fine``, ``yes`` or ``no``; None where nobody can tell."""
    found = known[WATER.id] if WATER.id in known else known.get(WATER.fact)
    return None if found is None else str(found)


def step_f(known: Known) -> float | None:
    """Step of the thermometer, where the person knows it to be fine."""
    return 1.0 if thermometer(known) == "fine" else None


def restraint_of(given: Known, facts: Known) -> Restraint | None:
    """How the line lies, where somebody told."""
    found = told(RESTRAINT, given, facts)
    return next((one for one in RESTRAINTS if one == found), None)


def learn_reading(given: Known) -> dict[str, Any]:
    """What the other flow need not ask again. A missing thermometer may be found by then."""
    return {
        step.fact: given[step.id]
        for step in _SHARED
        if given.get(step.id) is not None and (step, given[step.id]) != (WATER, "no")
    }


#: The sizes that are asked for.
_SIZES = frozenset(one.value for one in size_options())


def largest(pipe: Pipe) -> tuple[float, ...]:
    """Order of pipes by the water they hold and how they give, most first."""
    return (-pipe.od_in, pipe.wall_in or 0.0)


def weakest(pipe: Pipe) -> tuple[float, ...]:
    """Order of pipes by what they bear, the least first; of one size, the thinnest wall."""
    return ((pipe.wall_in or 0.0) / pipe.od_in,)


def stiffest(pipe: Pipe) -> tuple[float, ...]:
    """Order of pipes by how hard water knocks in them, the hardest first."""
    return (-(pipe.wall_in or 0.0) / pipe.od_in,)


_Order = Callable[[Pipe], tuple[float, ...]]


def rigid_of(
    given: Known,
    facts: Known,
    owned: list[Line],
    *,
    wall: _Order = weakest,
    size: _Order | None = None,
) -> Pipe:
    """The rigid pipe of the job; where its wall is not known, the first in the order ``wall``.

    Where its size is not known, the first of all in the order ``size``.

    Raises
    ------
    Problem
        Nobody can tell the size, and there is no such order; or there is no such pipe.
    """
    nominal, pipe_class = told(NOMINAL, given, facts), told(PIPE_CLASS, given, facts)
    if nominal is None and size is None:
        raise Problem(
            "nominal",
            None,
            say("Without the pipe’s size this cannot be worked out."),
            say("Measure the rigid pipe first, or read the print on it."),
        )
    known = pipes().get(str(facts.get("pipe.id") or ""))
    if known is not None and "nominal" not in given and "class" not in given:
        return known
    if nominal is None or pipe_class is None:
        sizes, order = (_SIZES, size or wall) if nominal is None else ({nominal}, wall)
        of_these = (pipe for (size, _), pipe in ips_pvc().items() if size in sizes)
        found = min(of_these, key=order, default=None)
        if found is not None:
            name = say("worst of all pipes") if nominal is None else say("worst of all walls")
            owned.append(owned_line(name, found.name, found.source, found.status))
            return found
    try:
        return rigid_pvc(str(nominal), str(pipe_class), "pipe")
    except Problem as problem:
        raise problem.at(problem.field.removeprefix("pipe.")) from None


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
