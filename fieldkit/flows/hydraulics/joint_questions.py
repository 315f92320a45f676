"""Guided: the knock of a valve that shuts, and whether every joint holds it, hot."""

from __future__ import annotations

from typing import Any

from fieldkit.engine.hydraulics.friction import velocity_ft_s
from fieldkit.engine.hydraulics.hold import HoldAnswer, hold
from fieldkit.engine.hydraulics.surge import SurgeAnswer, surge
from fieldkit.engine.line_pipe import least_bore_in
from fieldkit.engine.words import Figure, say
from fieldkit.engine.working import Line, worked
from fieldkit.flows.block import Block, Facts, Notes, Table
from fieldkit.flows.facts import SITE_FACTS, taught
from fieldkit.flows.figures import amount, load, rating
from fieldkit.flows.flow import OTHER_PARTS, Flow
from fieldkit.flows.hydraulics.shared_questions import (
    AIR,
    BORE,
    HOT,
    JOINTS,
    STATIC,
    SUN,
    VALVE,
    closing_seconds,
    closing_valve,
    heat_of,
    held_joints,
    need,
    quick_modulus_psi,
    rated,
)
from fieldkit.flows.pressure_test.job_pipe import NOMINAL, PIPE_WALL, rigid_of, stiffest, told
from fieldkit.flows.question import Known, Quantity, Step

_FLOW = Step(
    "flow",
    "How much water runs when the valve shuts?",
    Quantity("gpm", at_least=0.01, at_most=1000.0, common=("2 gpm", "5 gpm", "10 gpm")),
    trade="flow stopped",
    why="Faster water hammers harder.",
    hint=say("Time a bucket: a gallon in 30 seconds is {flow}.", flow=Figure(2.0, "gpm")),
    cant_tell=say("I can’t tell: take water at {speed}", speed=Figure(5.0, "ft/s")),
    sources=("nrcs-430",),
    short="Flow when it shuts",
)
_LENGTH = Step(
    "length",
    "How long is the pipe from the valve back to the main or tank?",
    Quantity("ft", at_least=1.0, at_most=50_000.0, common=("50 ft", "200 ft", "1000 ft")),
    trade="length of the column",
    why="In a long pipe even a slow valve is fast.",
    cant_tell="I can’t tell: take the stop as sudden",
    sources=("michaud",),
    short="Pipe back to the main",
)
_FULL_SPEED = 5.0


def _surge(given: Known, facts: Known) -> SurgeAnswer:
    owned: list[Line] = []
    pipe = rigid_of(given, facts, owned, wall=stiffest)
    modulus = quick_modulus_psi(pipe)
    static = need(
        STATIC,
        given,
        facts,
        say("Without the pressure before it, the peak is not known."),
        say("Screw a gauge on the nearest faucet and read it with everything shut."),
    )
    if given.get("flow") is None:
        speed = _FULL_SPEED
        owned.append(worked("assumed_usual_limit", speed))
    else:
        speed = velocity_ft_s(float(given["flow"]), least_bore_in(pipe))
    return surge(
        od_in=pipe.od_in,
        wall_in=pipe.wall_in or 0.0,
        modulus_psi=modulus,
        velocity_change=speed,
        static_psi=static,
        length_ft=given.get("length"),
        closure_seconds=closing_seconds(given, owned),
        valve=closing_valve(given),
        assumed=tuple(owned),
    )


def _show_surge(answer: Known) -> tuple[Block, ...]:
    return (
        Facts(
            (
                (say("Highest pressure"), load(answer["peak_psi"])),
                (say("Water hammer adds"), load(answer["surge_psi"])),
                (say("If shut at once"), load(answer["full_surge_psi"])),
                (
                    say("Each {speed} adds", speed=Figure(1.0, "ft/s")),
                    amount(answer["psi_per_ft_s"], "psi"),
                ),
                (say("Slow is longer than"), amount(answer["critical_seconds"], "s", 2)),
            )
        ),
        Notes(
            say("To make it less"),
            (
                say("Shut more slowly: over several seconds."),
                say("Slow the water: larger pipe, or fewer outlets at once."),
                say("Keep this peak under what every joint holds."),
            ),
        ),
    )


def _learn_surge(given: Known, answer: Known) -> dict[str, Any]:
    learned = {"last.surge_psi": answer["surge_psi"]}
    if given.get("pressure") is not None:
        learned["site.pressure_psi"] = given["pressure"]
    return learned


SURGE_FLOW = Flow(
    id="surge",
    title="Water hammer when a valve shuts",
    trade="water hammer, surge",
    about="How high the pressure jumps when moving water is stopped.",
    together=(("nominal", "class", "flow", "pressure", "valve", "length"),),
    pages=("Valve and pipe",),
    steps=(NOMINAL, PIPE_WALL, _FLOW, STATIC, VALVE, _LENGTH),
    work_out=_surge,
    show=_show_surge,
    learn=_learn_surge,
    refusals={"": ("class",)},
    cautions=("surge_screen", "local_code"),
    then=("hold",),
)

_SURGE = Step(
    "surge",
    "How much does water hammer add?",
    Quantity(
        "psi",
        at_least=0.0,
        at_most=500.0,
        common=(("0 psi", "Behind a regulator: 0"), "50 psi", "100 psi"),
    ),
    trade="surge",
    why="It comes on top of the steady pressure.",
    hint="Work it out under “Water hammer when a valve shuts”.",
    fact="last.surge_psi",
    cant_tell="I can’t tell: keep room for it",
    sources=("nrcs-mo-livestock",),
    short="Water hammer adds",
)


def _hold(given: Known, facts: Known) -> HoldAnswer:
    owned: list[Line] = []
    static = need(
        STATIC,
        given,
        facts,
        say("Without the pressure there is nothing to hold against."),
        say("Read a gauge with everything shut, or take the regulator’s printed figure."),
    )
    bore = told(BORE, given, facts)
    surge_psi = told(_SURGE, given, facts)
    return hold(
        held_joints(given, facts, None if bore is None else float(bore), owned),
        static_psi=static,
        surge_psi=None if surge_psi is None else float(surge_psi),
        temperature_f=rated(heat_of(given, facts, owned)),
        assumed=tuple(owned),
    )


def _show_hold(answer: Known) -> tuple[Block, ...]:
    return (
        Facts(
            (
                (say("Highest pressure"), load(answer["peak_psi"])),
                (say("The weakest joint holds"), rating(answer["limit_psi"])),
                (say("At"), amount(answer["temperature_f"], "°F", 0)),
                (say("Push on it"), amount(answer["thrust_lbf"], "pounds", 0)),
            )
        ),
        joints_table(answer["joints"]),
    )


def joints_table(rows: Any) -> Table:
    """Each joint with its limit, the push on it, and a word."""
    words = {"holds": say("Holds"), "marginal": say("Too close"), "lets_go": say("Lets go")}
    return Table(
        say("Each joint, hot"),
        (say("Joint"), say("Holds"), say("Push"), say("Verdict")),
        tuple(
            (
                row["name"],
                rating(row["limit_psi"]),
                amount(row["thrust_lbf"], "lbf", 0),
                words[row["verdict"]],
            )
            for row in rows
        ),
    )


def _learn_hold(given: Known, answer: Known) -> dict[str, Any]:
    learned = {"last.peak_psi": answer["peak_psi"], "last.verdict": answer["verdict"]}
    return learned | taught(given, SITE_FACTS)


HOLD_FLOW = Flow(
    id="hold",
    title="Will the joints hold, hot?",
    trade="blow-off check",
    about="Every joint against the highest pressure, on the hottest day.",
    together=(
        ("joints", "pressure", "surge", "temperature", "bore"),
        ("air", "sun"),
    ),
    pages=(
        "The joints and what they bear",
        "How hot it gets",
    ),
    steps=(JOINTS, STATIC, _SURGE, HOT, AIR, SUN, BORE),
    work_out=_hold,
    refusals=dict.fromkeys(("lets_go", "marginal"), ("pressure", "sun", "temperature", "surge")),
    otherwise=OTHER_PARTS,
    show=_show_hold,
    learn=_learn_hold,
    cautions=("surge_screen", "stand_clear", "local_code"),
)

FLOWS: tuple[Flow, ...] = (HOLD_FLOW, SURGE_FLOW)
