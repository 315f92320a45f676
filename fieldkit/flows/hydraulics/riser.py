"""Guided: turn a sprinkler riser into a feed for tubing."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from fieldkit.engine.choosing.fit import Tube
from fieldkit.engine.choosing.rules import Need
from fieldkit.engine.choosing.transition import transition
from fieldkit.engine.hydraulics.riser import Riser, RiserAnswer, riser_to_tube
from fieldkit.engine.line_pipe import least_bore_in
from fieldkit.engine.pipes import rigid_pvc
from fieldkit.engine.problems import Problem
from fieldkit.engine.words import Figure, say
from fieldkit.engine.working import Line
from fieldkit.flows.block import Block, Facts, Steps
from fieldkit.flows.choosing import page as choose_show
from fieldkit.flows.facts import SITE_FACTS, taught
from fieldkit.flows.figures import amount
from fieldkit.flows.flow import Flow
from fieldkit.flows.hydraulics.shared_questions import (
    AIR,
    BORE,
    HOT,
    OUTLET_FLOW,
    SPACING,
    STATIC,
    SUN,
    heat_of,
    rated,
    rigid_heat_of,
    value_of,
)
from fieldkit.flows.pipe_asks import TUBE_OD, riser_top, size_options
from fieldkit.flows.pressure_test.job_pipe import told
from fieldkit.flows.question import Choice, Known, Option, Quantity, Step, Whole

_HEAD = Step(
    "head",
    "What stands on the riser now?",
    Choice(
        (
            Option("spray", "A head with a fixed fan of water", "spray head"),
            Option("rotor", "A head that turns", "rotor"),
        )
    ),
    trade="sprinkler head",
    why="It tells how much water was planned for here.",
    cant_tell="I can’t tell: take a spray head",
    short="On it now",
)
#: Sizes that risers come in.
_SIZES = ("1/2", "3/4", "1")

_SIZE = Step(
    "size",
    "What size is the riser?",
    Choice(size_options(*_SIZES)),
    trade="thread size",
    why="Parts come by this size, and it limits the flow.",
    hint=say(
        "Across a ½ in. thread is {half}, across a ¾ in. thread {three_quarters}.",
        half=Figure(0.84, "in.", 2),
        three_quarters=Figure(1.05, "in", 2),
    ),
    fact="thread.size",
    cant_tell="I can’t tell: take ½ in.",
    sources=("asme-b1-20-1",),
    short="Riser",
)
_START = replace(
    riser_top(("npt-male", "npt-female", "pipe", "socket")),
    hint="Unscrew the head with the water off, and look.",
    caution=("depressurise",),
    cant_tell="I can’t tell: take a thread on the outside",
)
_HEAD_FLOW = Step(
    "head_flow",
    "How much water did that head give?",
    Quantity("gpm", at_least=0.05, at_most=50.0, common=("1 gpm", "1.5 gpm", "3 gpm")),
    trade="nozzle flow",
    why="The zone was built for so much and no more.",
    hint="Printed on the nozzle, or in its maker’s chart.",
    cant_tell="I can’t tell: take the usual for that head",
    short="That head gave",
    folded=True,
)
_HEADS = Step(
    "heads",
    "How many heads run on that valve, this one counted?",
    Whole(1, 60, common=(1, 4, 6, 8)),
    trade="heads in the zone",
    why="Heads that are capped leave their water to the tubing.",
    hint="Turn the valve on and count.",
    cant_tell="I can’t tell: count this one alone",
    short="Heads on that valve",
)
_OTHERS = Step(
    "others",
    "What becomes of the other heads?",
    Choice(
        (
            Option("cap", "Cap them all", "capped"),
            Option("keep", "They stay", "mixed zone"),
        )
    ),
    trade="zone",
    why="Sprinklers and emitters need very different times.",
    when=lambda known: "heads" not in known or (known["heads"] or 1) > 1,
    cant_tell="I can’t tell: cap them",
    short="The other heads",
)
_PRESSURE = replace(STATIC, cant_tell=say("I can’t tell: take {usual}", usual=Figure(30.0, "psi")))
_TUBE_OD = replace(TUBE_OD, cant_tell="I can’t tell: some half-inch tubing")

_SIZES_OF_FIELD = {"tube.od": "tube_od", "tube.bore": "bore", "tubing.od": "tube_od"}


def _work_out(given: Known, facts: Known) -> RiserAnswer:
    owned: list[Line] = []
    size = _size(given, facts)
    tube_heat = rated(heat_of(given, facts, owned))
    rigid_heat = rigid_heat_of(given, facts, owned)
    pipe = rigid_pvc(size, "Sch 80", "size")
    usual = "riser_flow_rotor" if given.get("head") == "rotor" else "riser_flow_spray"
    static = value_of(_PRESSURE, given, facts, "riser_pressure", owned)
    od, bore = told(_TUBE_OD, given, facts), told(BORE, given, facts)
    riser = Riser(
        size=size,
        bore_in=least_bore_in(pipe),
        head_gpm=value_of(_HEAD_FLOW, given, facts, usual, owned),
        heads=int(given.get("heads") or 1),
        others_capped=given.get("others") != "keep",
        static_psi=static,
        emitter_gph=value_of(OUTLET_FLOW, given, facts, "emitter_flow_default", owned),
        spacing_ft=value_of(SPACING, given, facts, "spacing_default", owned) / 12.0,
        tube_bore_in=value_of(BORE, given, facts, "half_inch_bore", owned),
        tube_heat_f=tube_heat,
        rigid_heat_f=rigid_heat,
        assumed=tuple(owned),
    )
    try:
        parts = transition(
            Need(
                nominal=size,
                pipe_class="Sch 80",
                tube=Tube(
                    od,
                    bore,
                    half_inch=od is None and bore is None,
                    family=str(facts.get("tube.family") or ""),
                ),
                place="riser",
                start=str(given.get("start") or "npt-male"),
                temperature_f=rigid_heat,
            )
        )
    except Problem as found:
        step = _SIZES_OF_FIELD.get(found.field, found.field)
        raise found.at(step) from None
    return riser_to_tube(riser, parts)


def _size(given: Known, facts: Known) -> str:
    size = told(_SIZE, given, facts)
    return str(size) if size in _SIZES else "1/2"


def _show(answer: Known) -> tuple[Block, ...]:
    regulator = answer["regulator_psi"]
    return (
        Facts(
            (
                (say("Emitters it may feed"), str(answer["emitters"])),
                (say("Flow to plan for"), amount(answer["planned_gpm"], "gpm", 2)),
                (say("Limited by"), answer["limited_by"]),
                (say("Regulator"), amount(regulator, "psi", 0, missing=say("not needed"))),
                (say("Longest run of tubing"), amount(answer["longest_ft"], "ft", 0)),
                (say("Emitters on one run"), str(answer["emitters_a_run"])),
                (say("Heads to cap"), str(answer["heads_to_cap"])),
            )
        ),
        Steps(say("Do it in this order"), tuple(answer["steps"]), folded=True),
        *choose_show.show(answer["transition"]),
    )


def _pick(answer: Known, chosen: str) -> dict[str, Any]:
    return choose_show.pick(answer["transition"], chosen)


def _learn(given: Known, answer: Known) -> dict[str, Any]:
    learned: dict[str, Any] = {"site.place": "riser", "last.longest_ft": answer["longest_ft"]}
    names = {
        "size": "thread.size",
        "tube_od": "tube.od_in",
        "bore": "tube.bore_in",
    }
    return learned | taught(given, names | SITE_FACTS)


RISER_FLOW = Flow(
    id="riser-to-tube",
    title="Feed tubing from a sprinkler riser",
    trade="riser conversion",
    about="What the riser can give, how many emitters that feeds, what to cap, and which parts.",
    together=(
        ("head", "size", "start"),
        ("heads", "others", "pressure", "outlet_flow", "spacing", "head_flow"),
        ("tube_od", "bore", "sun", "temperature", "air"),
    ),
    pages=(
        "The riser",
        "The water there",
        "The tubing",
    ),
    steps=(
        _HEAD,
        _SIZE,
        _START,
        _HEAD_FLOW,
        _HEADS,
        _OTHERS,
        _PRESSURE,
        OUTLET_FLOW,
        SPACING,
        _TUBE_OD,
        BORE,
        HOT,
        *(replace(step, folded=True) for step in (SUN, AIR)),
    ),
    work_out=_work_out,
    show=_show,
    learn=_learn,
    pick=_pick,
    refusals={"change": ("others", "outlet_flow", "temperature", "sun", "bore")},
    cautions=("depressurise", "backflow", "local_code"),
    then=("join-thread", "join-tube"),
    onward=lambda answer, facts: choose_show.to_the_card(answer["transition"], facts),
)

FLOWS: tuple[Flow, ...] = (RISER_FLOW,)
