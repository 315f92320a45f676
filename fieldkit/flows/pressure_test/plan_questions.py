"""The guided flow that plans a pressure test, and holds it back until the cement has cured."""

from __future__ import annotations

from typing import Any

from fieldkit.engine.pressure_test.part_ceiling import LinePart
from fieldkit.engine.pressure_test.plan import LinePlan, LineToTest, plan_line
from fieldkit.engine.problems import Problem
from fieldkit.engine.words import Figure, say
from fieldkit.engine.working import Line
from fieldkit.flows.flow import Flow, Onward
from fieldkit.flows.measures import Paired, UnitName, warmer
from fieldkit.flows.pressure_test.job_pipe import (
    DIVISION,
    LENGTH,
    NOMINAL,
    PIPE_CLASS,
    RESTRAINT,
    TUBING,
    WATER,
    learn_pipe,
    learn_reading,
    restraint_of,
    rigid_of,
    step_f,
    thermometer,
    told,
    weakest,
)
from fieldkit.flows.pressure_test.page import show_plan
from fieldkit.flows.pressure_test.request import clock_of, minutes_between, or_rule, owned_line
from fieldkit.flows.question import Choice, Known, Option, Quantity, Several, Step, Words
from fieldkit.tables.fittings import joints, made_by
from fieldkit.tables.pipes import Pipe


def _cement(known: Known) -> bool:
    made = known.get("parts.joints") or known.get("joints") or ()
    return any(kind in made_by("cement") for kind in made)


def _cure_left(given: Known, facts: Known) -> float | None:
    """Minutes of cure left by the log's clock, None where the log does not know."""
    ready, now = facts.get("weld.ready_at"), facts.get("now")
    if ready is None or now is None:
        return None
    return max(
        0.0, minutes_between(clock_of(now, "override"), clock_of(ready, "override"), "override")
    )


def _over_a_day(known: Known) -> bool:
    """Whether the last joint was glued over a day ago, as the person said, here or before."""
    return bool(told(_CURED, known, known) == "long")


def _not_cured(known: Known) -> bool:
    left = _cure_left(known, known)
    if left is not None:
        return left > 0
    return "cured" in known and not _over_a_day(known)


def _made_anew(known: Known) -> list[str]:
    """The kinds of joint that a repair made: the log knows no more of such a line."""
    if not known.get("leak.mended_at"):
        return []
    end = known.get("tube_end.kind") if known.get("tube_end.verdict") else None
    return [
        *(["solvent_socket"] if known.get("weld.made_at") else []),
        *(["npt"] if known.get("thread.verdict") else []),
        *([str(end)] if end else []),
    ]


_JOINTS = Step(
    "joints",
    "Which kinds of joint will feel the pressure?",
    Several(tuple(Option(row.id, row.name, row.trade_name) for row in joints().values())),
    trade="joints under test",
    why="The weakest joint sets how high the test may go.",
    hint="Pick all you can see, and those under the ground.",
    fact="parts.joints",
    when=lambda known: not _made_anew(known) or "joints" in known,
    cant_tell="I can’t tell: take the weakest",
    short="Joints that feel it",
)
_WORKING = Step(
    "pressure",
    "How high does the pressure get in use?",
    Quantity("psi", at_least=1.0, at_most=400.0, common=("25 psi", "40 psi", "60 psi")),
    trade="working pressure",
    why="A test goes half as high again, if every part may see that.",
    hint="Read a gauge with the water standing still. After a regulator, its printed figure.",
    fact="site.pressure_psi",
    sources=("nashua-clause",),
    short="Pressure in use",
)
_HEAT = Step(
    "temperature",
    "How warm will pipe and water get during the test?",
    Quantity("°F", at_least=33.0, at_most=140.0, common=("60 °F", "73 °F", "90 °F")),
    trade="wall temperature",
    why="Warm plastic holds less.",
    hint=say("Bare black tubing in the sun runs about {heat} above the air.", heat=warmer(30.0)),
    fact="site.temperature_f",
    cant_tell="I can’t tell: take a hot day",
    sources=("trade",),
    short="How warm in the test",
)
_HEIGHT = Step(
    "gauge_height",
    "How high is the gauge above the lowest pipe?",
    Quantity(
        "ft", at_least=-500.0, at_most=500.0, common=(("0 ft", "Level with it"), "3 ft", "10 ft")
    ),
    trade="gauge elevation",
    why=say(
        "The lowest pipe sees more than the gauge shows: {more} for each {length}.",
        more=Paired(0.433, "psi", 3, metric=Figure(0.098, "bar", 3)),
        length=UnitName("foot"),
    ),
    hint=say("Below the lowest pipe is a minus: −{depth}.", depth=Figure(3.0, "ft")),
    cant_tell=say("I can’t tell: take {usual}", usual=Figure(10.0, "ft")),
    sources=("nashua-clause",),
    short="Gauge above lowest pipe",
    folded=True,
    fact="test.gauge_height_ft",
)
_CURED = Step(
    "cured",
    "When was the last joint glued?",
    Choice(
        (
            Option("long", "Over a day ago", "cured"),
            Option("fresh", "Less than a day ago", "curing"),
        )
    ),
    trade="cure time",
    why="Cement that has not cured lets go under pressure.",
    fact="weld.cured",
    hint="The log does not know. A full day covers most small joints in mild weather.",
    when=lambda known: _cement(known) and _cure_left(known, known) is None,
    sources=("cement-guide-b",),
)
_OVERRIDE = Step(
    "override",
    "The cement has not cured. Why test now?",
    Words(limit=300, long=True),
    trade="override",
    why="The reason goes on the record that is signed.",
    hint="Waiting is safer. The time left is shown if you choose to wait.",
    when=_not_cured,
    caution=("stand_clear",),
    cant_tell="I will wait",
)


def _plan(given: Known, facts: Known) -> LinePlan:
    owned: list[Line] = []
    pipe = rigid_of(given, facts, owned, size=weakest)
    kinds = told(_JOINTS, given, facts) or _made_anew(facts)
    if not kinds:
        least = min(joints().values(), key=lambda row: row.ceiling_psi)
        owned.append(owned_line(say("weakest joint"), least.name, least.source, least.status))
        kinds = [least.id]
    working = told(_WORKING, given, facts)
    if working is None:
        raise Problem(
            "pressure",
            None,
            say("Without the pressure in use there is no test pressure."),
            say("Screw a gauge onto a hose faucet, or read the figure on the regulator."),
        )
    temperature = or_rule(told(_HEAT, given, facts), "unknown_temperature_f", owned)
    height = or_rule(told(_HEIGHT, given, facts), "unknown_gauge_height_ft", owned)
    left = _cure_left(given, facts)
    if left is None and _cement(dict(facts) | dict(given)) and told(_CURED, given, facts) != "long":
        left = or_rule(None, "unknown_cure_min", owned)
    length = or_rule(told(LENGTH, given, facts), "unknown_length_ft", owned)
    known = dict(facts) | dict(given)
    return _planned(
        LineToTest(
            parts=(
                LinePart("pipe", pipe, length_ft=length),
                *(_planned_joint(kind, pipe) for kind in kinds),
            ),
            working_psi=float(working),
            temperature_f=temperature,
            gauge_height_ft=height,
            restraint=restraint_of(given, facts),
            gauge_division_psi=told(DIVISION, given, facts),
            thermometer=thermometer(known) != "no",
            thermometer_step_f=step_f(known),
            cure_left_min=left,
            override_reason=str(given.get("override") or ""),
            assumed=tuple(owned),
        )
    )


def _planned(line: LineToTest) -> LinePlan:
    """The plan; a problem is sent back to the step that can mend it."""
    try:
        return plan_line(line)
    except Problem as problem:
        step = {"working_pressure": "pressure", "temperature": "temperature"}.get(
            problem.field, "nominal"
        )
        problem.field = step
        raise


def _planned_joint(kind: str, pipe: Pipe) -> LinePart:
    """A joint of the job: welds and threads are as strong as the pipe, tube ends as they are."""
    if kind not in joints():
        raise Problem(
            "joints",
            str(kind)[:40],
            say("This kind of joint is not in our table."),
            say("Pick the joints again."),
        )
    on_pipe = joints()[kind].pipe_share is not None
    return LinePart(kind, pipe if on_pipe else None, size=pipe.nominal)


def _onward(answer: Known, facts: Known) -> Onward | None:
    """After "do not test", other parts: the same plan made once more would say the same."""
    del facts
    if answer.get("verdict") == "do_not_test":
        return Onward("choose", say("Choose parts that hold more"))
    return None


def _learn_plan(given: Known, answer: Known) -> dict[str, Any]:
    learned = learn_pipe(given) | learn_reading(given)
    for step in (_JOINTS, _WORKING, _HEIGHT):
        if given.get(step.id) is not None:
            learned[step.fact] = given[step.id]
    if given.get("cured") == "long":
        learned[_CURED.fact] = "long"
    if answer["verdict"] in {"ready", "override"}:
        learned |= {
            "test.pressure_psi": answer["test_pressure_psi"],
            "test.hold_minutes": answer["hold_minutes"],
            "test.limited_by": answer["limited_by"],
            "test.override": answer["override_reason"] or None,
        }
    return learned


PLAN_FLOW = Flow(
    id="plan-test",
    title="Plan the pressure test",
    trade="test pressure and hold",
    about="How high, how long, in what order, and whether the cement is ready.",
    together=(
        (
            "nominal",
            "class",
            "joints",
            "pressure",
            "temperature",
            "gauge_height",
            "length",
            "restraint",
            "tubing",
            "water",
            "cured",
            "division",
        ),
    ),
    pages=("The line to be tested",),
    steps=(
        NOMINAL,
        PIPE_CLASS,
        _JOINTS,
        _WORKING,
        _HEAT,
        _HEIGHT,
        LENGTH,
        RESTRAINT,
        TUBING,
        WATER,
        DIVISION,
        _CURED,
        _OVERRIDE,
    ),
    work_out=_plan,
    refusals={"": ("class",), "do_not_test": ("pressure", "temperature")},
    onward=_onward,
    show=show_plan,
    learn=_learn_plan,
    cautions=("water_only", "depressurise"),
    unasked=lambda answer: "prove" if answer.get("verdict") == "ready" else "",
    then=("prove",),
)

FLOWS: tuple[Flow, ...] = (PLAN_FLOW,)
