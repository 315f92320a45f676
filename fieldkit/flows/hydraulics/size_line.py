"""Guided: size this line, from the supply to the last emitter and the weakest joint."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from fieldkit.engine.hydraulics.job_line import Demand, Rigid, Tubing
from fieldkit.engine.hydraulics.size_line import Job, SizeAnswer, size_line
from fieldkit.engine.line_pipe import least_bore_in
from fieldkit.engine.strength import load_figure
from fieldkit.engine.words import Figure, Quote, say
from fieldkit.engine.working import Line, worked
from fieldkit.flows.block import Block, Facts, Notes, Steps, Table
from fieldkit.flows.facts import SITE_FACTS, taught
from fieldkit.flows.figures import amount, load
from fieldkit.flows.flow import OTHER_PARTS, Flow
from fieldkit.flows.hydraulics.joint_questions import joints_table
from fieldkit.flows.hydraulics.page import profile_drawing, profile_table
from fieldkit.flows.hydraulics.shared_questions import (
    AIR,
    BORE,
    COUNT,
    EMITTER,
    HOT,
    JOINTS,
    OUTLET_FLOW,
    RISE,
    SPACING,
    STATIC,
    SUN,
    VALVE,
    closing_seconds,
    closing_valve,
    exponent_of,
    heat_of,
    held_joints,
    need,
    quick_modulus_psi,
    rated,
    rigid_heat_of,
    value_of,
)
from fieldkit.flows.localize import localize
from fieldkit.flows.pressure_test.job_pipe import NOMINAL, PIPE_WALL, rigid_of, stiffest, told
from fieldkit.flows.question import Choice, Known, Option, Quantity, Step
from fieldkit.tables.materials import materials
from fieldkit.tables.other_kinds import water_pipes
from fieldkit.tables.pipes import Pipe, pipes

#: The sizes of drip tubing that are offered where another is wanted, smallest first.
_OFFERED = ("drip-0620x0520", "drip-0700x0600", "drip-0940x0820", "drip-1200x1060")

_MAIN = Step(
    "main_length",
    "How far is it from the valve to the tubing?",
    Quantity("ft", at_least=0.1, at_most=20_000.0, common=("20 ft", "50 ft", "150 ft")),
    trade="length of rigid pipe",
    why="The rigid pipe takes pressure, and its length makes the hammer.",
    cant_tell=say("I can’t tell: take {usual}", usual=Figure(50.0, "ft")),
    short="Valve to tubing",
)
_WANTS = Step(
    "wants",
    "What does the tubing feed?",
    Choice(
        (
            Option("emitters", "Emitters along it", "drip line"),
            Option("flow", "One thing at its end", "plain feed"),
        )
    ),
    trade="demand",
    why="Emitters share the flow along the way.",
    cant_tell="I can’t tell: take emitters",
)


def _drips(known: Known) -> bool:
    return known.get("wants") != "flow"


def _feeds(known: Known) -> bool:
    return known.get("wants") == "flow"


_NUMBER = Step(
    "outlets",
    "How many emitters?",
    COUNT,
    trade="number of outlets",
    why="Their flows add up.",
    hint="Length of the tubing over the spacing.",
    when=_drips,
    short="Emitters",
)
_END_FLOW = Step(
    "flow",
    "How much must arrive?",
    Quantity("gpm", at_least=0.01, at_most=200.0, common=("1 gpm", "3 gpm", "5 gpm")),
    trade="flow",
    why="It sets the size of the tubing.",
    when=_feeds,
    short="Must arrive",
)
_END_LENGTH = Step(
    "length",
    "How long is the tubing?",
    Quantity("ft", at_least=1.0, at_most=20_000.0, common=("50 ft", "100 ft", "200 ft")),
    trade="length",
    why="Loss grows with length.",
    when=_feeds,
    cant_tell=say("I can’t tell: take {usual}", usual=Figure(100.0, "ft")),
    short="Length of tubing",
)
_REGULATOR = Step(
    "regulator",
    "What does the pressure regulator say?",
    Quantity("psi", at_least=5.0, at_most=100.0, common=("15 psi", "25 psi", "30 psi")),
    trade="regulator setting",
    why="It keeps the tubing from seeing the full pressure.",
    hint="A short plastic barrel after the valve, with the figure on it.",
    cant_tell="There is none, or I can’t tell",
    sources=("drip-blowoff-pages",),
    short="Regulator",
)

STEPS = (
    STATIC,
    NOMINAL,
    PIPE_WALL,
    _MAIN,
    _WANTS,
    _NUMBER,
    *(replace(step, when=_drips) for step in (OUTLET_FLOW, SPACING, EMITTER)),
    _END_FLOW,
    _END_LENGTH,
    RISE,
    replace(BORE, cant_tell="No tubing yet: find me a size"),
    _REGULATOR,
    VALVE,
    JOINTS,
    HOT,
    AIR,
    SUN,
)


def _tubing(row: Pipe) -> Tubing:
    modulus = materials()[row.material].dynamic_modulus_psi or 0.0
    return Tubing(row.name, row.od_in, row.bore_in or 0.0, modulus)


def _chosen(given: Known, facts: Known, owned: list[Line]) -> Tubing | None:
    """The tubing that is there: its row, or the nearest row of its bore."""
    bore = told(BORE, given, facts)
    if bore is None:
        return None
    known = pipes().get(str(facts.get("tube.id") or ""))
    if known is not None and known.bore_in is not None and "bore" not in given:
        return _tubing(known)
    near = min(
        (row for row in water_pipes() if not row.rigid and row.bore_in is not None),
        key=lambda row: (abs((row.bore_in or 0.0) - float(bore)), row.material != "drip"),
    )
    owned.append(worked("assumed_tubing", near.name, rests=near))
    wall = (near.od_in - (near.bore_in or 0.0)) / 2.0
    modulus = materials()[near.material].dynamic_modulus_psi or 0.0
    return Tubing(near.name, float(bore) + 2.0 * wall, float(bore), modulus)


def _demand(given: Known, facts: Known, owned: list[Line]) -> Demand:
    rise = float(given.get("rise") or 0.0) / 100.0
    if _feeds(given):
        flow = need(
            _END_FLOW,
            given,
            facts,
            say("Without the flow no size can be worked out."),
            say("Read it off what is fed, or time a bucket."),
        )
        return Demand(1, flow * 60.0, float(given.get("length") or 100.0), 0.5, rise)
    outlets = need(
        _NUMBER,
        given,
        facts,
        say("Without the number of emitters no size can be worked out."),
        say("Pace the line off and divide by the spacing."),
    )
    spacing = value_of(SPACING, given, facts, "spacing_default", owned)
    gph = value_of(OUTLET_FLOW, given, facts, "emitter_flow_default", owned)
    return Demand(int(outlets), gph, spacing / 12.0, exponent_of(given, owned), rise)


def _size(given: Known, facts: Known) -> SizeAnswer:
    owned: list[Line] = []
    static = need(
        STATIC,
        given,
        facts,
        say("Without the pressure nothing can be sized."),
        say("Screw a gauge on the nearest faucet and read it with everything shut."),
    )
    pipe = rigid_of(given, facts, owned, wall=stiffest)
    modulus = quick_modulus_psi(pipe)
    heat = rated(heat_of(given, facts, owned))
    regulator = given.get("regulator")
    bore = told(BORE, given, facts)
    return size_line(
        Job(
            static_psi=static,
            rigid=Rigid(
                pipe.name,
                pipe.od_in,
                pipe.wall_in or 0.0,
                least_bore_in(pipe),
                value_of(_MAIN, given, facts, "main_default", owned),
                modulus,
            ),
            tubing=_chosen(given, facts, owned),
            sizes=tuple(_tubing(pipes()[row_id]) for row_id in _OFFERED),
            demand=_demand(given, facts, owned),
            regulator_psi=None if regulator is None else float(regulator),
            joints=held_joints(given, facts, None if bore is None else float(bore), owned),
            temperature_f=heat,
            rigid_temperature_f=rigid_heat_of(given, facts, owned),
            closing_s=closing_seconds(given, owned),
            valve=closing_valve(given),
            assumed=tuple(owned),
        )
    )


def _show(answer: Known) -> tuple[Block, ...]:
    regulator = answer["regulator_psi"]
    blocks: list[Block] = [
        Facts(
            (
                (say("Tubing"), answer["tubing"]),
                (say("Longest run of it"), amount(answer["longest_ft"], "ft", 0)),
                (say("Flow"), amount(answer["flow_gpm"], "gpm", 2)),
                (say("Pressure where it starts"), amount(answer["inlet_psi"], "psi")),
                (say("Pressure at the far end"), amount(answer["end_pressure_psi"], "psi")),
                (say("Evenness (EU)"), amount(answer["emission_uniformity"], "%", 0)),
                (say("Regulator"), amount(regulator, "psi", 0, missing=say("not needed"))),
                (say("Peak in the rigid pipe"), load(answer["rigid_peak_psi"])),
                (say("Push on an end"), amount(answer["thrust_lbf"], "pounds", 0)),
            )
        )
    ]
    if answer["findings"]:
        changes = tuple(
            say("{what} {change}", what=_sentence(one["what"]), change=one["change"])
            for one in answer["findings"]
        )
        blocks.append(Steps(say("What to change, in this order"), changes))
    blocks.append(Steps(say("In the order in which water meets them"), tuple(answer["order"])))
    if len(answer["profile"]) > 1:
        blocks.append(
            profile_drawing(
                answer["profile"],
                inlet_psi=answer["inlet_psi"],
                lowest_allowed_psi=answer["lowest_allowed_psi"],
                flow_limit_gpm=answer["velocity_limit_gpm"],
                speed_limit_ft_s=answer["velocity_limit_ft_s"],
            )
        )
        blocks.append(profile_table(answer["profile"]))
    blocks.append(_sizes_table(answer["fits"]))
    blocks.append(joints_table(answer["joints"]))
    blocks.append(_notes(answer))
    return tuple(blocks)


def _sentence(words: str) -> Quote:
    """Words that also stand inside a sentence, at the beginning of one: told already."""
    told_words = localize(words)
    return Quote(told_words[:1].upper() + told_words[1:])


def _sizes_table(fits: Any) -> Table:
    return Table(
        say("Sizes of tubing"),
        (say("Size"), say("Serves"), say("Longest run"), say("Speed")),
        tuple(
            (
                fit["tubing"]["name"],
                say("Yes") if fit["serves"] else say("No"),
                amount(fit["longest_ft"], "ft", 0),
                amount(fit["velocity_ft_s"], "ft/s"),
            )
            for fit in fits
        ),
    )


def _notes(answer: Known) -> Notes:
    return Notes(
        say("Good to know"),
        (
            say(
                "A valve slammed in the tubing itself would add {surge}. Leave none there.",
                surge=load_figure(answer["tube_surge_psi"]),
            ),
            say(
                "Between a hot day and a cold morning the tubing shrinks by {growth}. "
                "Snake it, do not pull it tight.",
                growth=Figure(abs(answer["growth_in"]), "in"),
            ),
            say(
                "Joints of the tubing were judged at {tube}, those of the rigid pipe at {rigid}.",
                tube=Figure(answer["temperature_f"], "°F"),
                rigid=Figure(answer["rigid_temperature_f"], "°F"),
            ),
        ),
    )


def _learn(given: Known, answer: Known) -> dict[str, Any]:
    order = ("holds", "marginal", "lets_go")
    verdicts = [order.index(row["verdict"]) for row in answer["joints"]]
    learned: dict[str, Any] = {
        "last.peak_psi": answer["rigid_peak_psi"],
        "last.surge_psi": answer["rigid_surge_psi"],
        "last.longest_ft": answer["longest_ft"],
    }
    if verdicts:
        learned["last.verdict"] = order[max(verdicts)]
    return learned | taught(given, SITE_FACTS)


SIZE_FLOW = Flow(
    id="size-line",
    title="Size this line",
    trade="pressure, tubing, regulator, surge",
    about="From the supply to the last emitter: does it work, does it hold, what to change.",
    together=(
        ("pressure", "nominal", "class", "main_length"),
        ("outlets", "outlet_flow", "spacing", "emitter", "flow", "length", "rise"),
        ("bore", "regulator", "valve", "joints", "temperature"),
        ("air", "sun"),
    ),
    pages=(
        "The pipe that brings it",
        "What the tubing feeds",
        "The tubing",
        "How hot it gets",
    ),
    steps=STEPS,
    work_out=_size,
    show=_show,
    learn=_learn,
    refusals={
        "": ("class",),
        "change": ("regulator", "pressure", "valve", "temperature", "sun", "bore", "outlets"),
    },
    otherwise=OTHER_PARTS,
    cautions=("backflow", "surge_screen", "local_code"),
    then=("choose", "hold"),
)

FLOWS: tuple[Flow, ...] = (SIZE_FLOW,)
