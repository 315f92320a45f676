"""Guided: what a pipe takes from the pressure, and how long a line of emitters may be."""

from __future__ import annotations

from typing import Any

from fieldkit.engine.hydraulics.lateral import LateralAnswer, lateral
from fieldkit.engine.hydraulics.march import Layout, Pipe, with_barbs
from fieldkit.engine.hydraulics.pipe_loss import FrictionAnswer, friction
from fieldkit.engine.problems import Problem
from fieldkit.engine.words import Figure, say
from fieldkit.engine.working import Line, worked
from fieldkit.flows.block import Block, Facts, Table
from fieldkit.flows.figures import amount
from fieldkit.flows.flow import Flow
from fieldkit.flows.hydraulics.page import profile_drawing, profile_table
from fieldkit.flows.hydraulics.request import assumed
from fieldkit.flows.hydraulics.shared_questions import (
    BORE,
    EMITTER,
    OUTLET_FLOW,
    RISE,
    SPACING,
    exponent_of,
    need,
    value_of,
)
from fieldkit.flows.question import Choice, Known, Option, Quantity, Step, Whole
from fieldkit.tables.hydraulics import figure

_FLOW = Step(
    "flow",
    "How much water runs through it?",
    Quantity("gpm", at_least=0.01, at_most=1000.0, common=("1 gpm", "2 gpm", "5 gpm", "10 gpm")),
    trade="flow",
    why="Twice the flow takes about three and a half times the pressure.",
    hint=say("Time a bucket: a gallon in 30 seconds is {flow}.", flow=Figure(2.0, "gpm")),
    short="Flow",
)
_LENGTH = Step(
    "length",
    "How long is the pipe?",
    Quantity("ft", at_least=0.1, at_most=20_000.0, common=("50 ft", "100 ft", "200 ft")),
    trade="length",
    why="Loss grows with length.",
    cant_tell=say("I can’t tell: show it for {length}", length=Figure(100.0, "ft")),
    short="Length",
)
_STIFF = Step(
    "stiff",
    "Is it rigid pipe or flexible tubing?",
    Choice((Option("pvc", "Rigid", "PVC"), Option("pe", "Flexible", "polyethylene"))),
    trade="material",
    why="The trade’s own formula has another constant for each.",
    cant_tell="I can’t tell: take the one that loses more",
    sources=("hazen-williams",),
    short="Rigid or flexible",
)
_WATER = Step(
    "water",
    "How warm is the water?",
    Quantity("°F", at_least=36.0, at_most=140.0, common=("50 °F", "68 °F", "90 °F")),
    trade="water temperature",
    why="Cold water is thicker and loses more.",
    cant_tell=say("I can’t tell: take {usual}", usual=Figure(68.0, "°F")),
    sources=("iapws-95",),
    short="Water",
)
_BARBS = Step(
    "barbs",
    "How many barbed fittings does the water pass through?",
    Whole(0, 500, common=(0, 2, 4, 10)),
    trade="insert fittings",
    why="Each is narrower than the tubing.",
    hint="A coupling has two barbs.",
    cant_tell="I can’t tell: leave them out",
    short="Barbed fittings passed",
)
_BARB_BORE = Step(
    "barb_bore",
    "How wide is a barb inside?",
    Quantity("in", at_least=0.05, at_most=6.0, common=(("0.45 in", "0.45"), ("0.50 in", "0.50"))),
    trade="barb bore",
    why="Loss depends on how much narrower it is.",
    when=lambda known: bool(known.get("barbs")),
    cant_tell="I can’t tell: take ¾ of the tubing",
    sources=("minor-loss",),
)


def _loss(given: Known, facts: Known) -> FrictionAnswer:
    owned: list[Line] = []
    bore = value_of(BORE, given, facts, "half_inch_bore", owned)
    flow = need(
        _FLOW,
        given,
        facts,
        say("Without the flow there is no loss to work out."),
        say("Time a bucket, or add up what the emitters give."),
    )
    c_row = "c_pvc" if given.get("stiff") == "pvc" else "c_pe"
    owned.append(assumed(c_row))
    barbs = int(given.get("barbs") or 0)
    barb_bore = given.get("barb_bore")
    if barbs and barb_bore is None:
        barb_bore = 0.75 * bore
        owned.append(worked("assumed_barb_bore", barb_bore))
    return friction(
        bore_in=bore,
        flow_gpm=flow,
        length_ft=float(given.get("length") or 100.0),
        c=figure(c_row),
        temperature_f=value_of(_WATER, given, facts, "temperature_default", owned),
        barbs=barbs,
        barb_bore_in=barb_bore,
        assumed=tuple(owned),
    )


_REGIMES = {
    "laminar": say("laminar"),
    "transition": say("transition"),
    "turbulent": say("turbulent"),
}


def _show_loss(answer: Known) -> tuple[Block, ...]:
    return (
        Facts(
            (
                (say("Pressure lost"), amount(answer["loss_psi"], "psi", 2)),
                (say("Of that in barbs"), amount(answer["barb_loss_psi"], "psi", 2)),
                (say("Speed of the water"), amount(answer["velocity_ft_s"], "ft/s")),
                (say("Kind of flow"), _REGIMES[answer["regime"]]),
            )
        ),
        Table(
            say("By both formulas"),
            (say("Formula"), say("Loss in {length}", length=Figure(100.0, "ft"))),
            (
                (say("Darcy–Weisbach"), amount(answer["darcy_ft_per_100ft"], "ft", 2)),
                (say("Hazen–Williams"), amount(answer["hazen_williams_ft_per_100ft"], "ft", 2)),
            ),
        ),
    )


LOSS_FLOW = Flow(
    id="flow-loss",
    title="Pressure lost in a pipe",
    trade="friction loss",
    about="How much pressure a run of pipe or tubing takes, barbs counted.",
    together=(("bore", "flow", "length", "stiff", "water", "barbs"),),
    pages=("The pipe and what runs in it",),
    steps=(BORE, _FLOW, _LENGTH, _STIFF, _WATER, _BARBS, _BARB_BORE),
    work_out=_loss,
    show=_show_loss,
    learn=lambda given, answer: {},
    refusals={"fast": ("flow", "bore")},
    cautions=("local_code",),
)

_INLET = Step(
    "inlet_pressure",
    "What is the pressure where the tubing starts?",
    Quantity("psi", at_least=1.0, at_most=150.0, common=("15 psi", "20 psi", "25 psi")),
    trade="inlet pressure",
    why="Evenness is counted from here.",
    hint="While it runs. After a regulator, its printed figure.",
    cant_tell=say("I can’t tell: take a {usual} regulator", usual=Figure(25.0, "psi")),
    sources=("drip-blowoff-pages",),
    short="Pressure at its start",
)
_VARIATION = Step(
    "variation",
    "How even must it be?",
    Choice(
        (
            Option("20", "Usual: flows within about 10 %", "20 % of pressure"),
            Option("10", "Tight: flows within about 5 %", "10 % of pressure"),
        )
    ),
    trade="pressure variation",
    why="The far end always gets less than the start.",
    when=lambda known: known.get("emitter") != "steady",
    cant_tell="I can’t tell: the usual",
    sources=("ep405",),
    short="How even",
)
_THERE = Step(
    "length",
    "How long is the line?",
    Quantity("ft", at_least=1.0, at_most=20_000.0, common=("50 ft", "100 ft", "200 ft")),
    trade="lateral length",
    why="Then we can tell whether it is too long.",
    cant_tell="Not laid yet: tell me the longest",
    short="Length of the line",
)


def _allowed(given: Known, exponent: float, inlet_psi: float, owned: list[Line]) -> float:
    """Share by which the pressure may vary: for steady emitters, down to their least."""
    if exponent == 0.0:
        owned.append(assumed("emitter_least"))
        least = figure("emitter_least")
        if inlet_psi <= least:
            raise Problem(
                "inlet_pressure",
                inlet_psi,
                say("Steady emitters want over {least}.", least=Figure(least, "psi")),
                say("Start with more pressure, or use plain emitters."),
            )
        return 1.0 - least / inlet_psi
    if given.get("variation") is None:
        owned.append(assumed("variation_usual"))
    return float(given.get("variation") or figure("variation_usual")) / 100.0


def _longest(given: Known, facts: Known) -> LateralAnswer:
    owned: list[Line] = []
    spacing_ft = value_of(SPACING, given, facts, "spacing_default", owned) / 12.0
    length = given.get("length")
    owned.append(assumed("c_pe"))
    owned.append(assumed("cv_default"))
    inlet = value_of(_INLET, given, facts, "regulator_default", owned)
    exponent = exponent_of(given, owned)
    allowed = _allowed(given, exponent, inlet, owned)
    try:
        return lateral(
            pipe=with_barbs(
                Pipe(
                    value_of(BORE, given, facts, "half_inch_bore", owned),
                    c=figure("c_pe"),
                    temperature_f=figure("temperature_default"),
                    rise=float(given.get("rise") or 0.0) / 100.0,
                )
            ),
            layout=Layout(spacing_ft, spacing_ft),
            outlet_gph=value_of(OUTLET_FLOW, given, facts, "emitter_flow_default", owned),
            inlet_psi=inlet,
            exponent=exponent,
            allowed=allowed,
            cv=figure("cv_default"),
            outlets=None if length is None else max(1, int(float(length) / spacing_ft + 1e-9)),
            least_psi=figure("emitter_least") if exponent == 0.0 else None,
            assumed=tuple(owned),
        )
    except Problem as problem:
        if problem.field in {step.id for step in _LONGEST_STEPS}:
            raise
        raise Problem(
            "bore" if problem.field == "variation" else "length",
            problem.given,
            problem.wrong,
            problem.instead,
        ) from None


def _show_longest(answer: Known) -> tuple[Block, ...]:
    profile: list[dict[str, Any]] = answer["profile"]
    highest, allowed = answer["highest_pressure_psi"], answer["allowed_variation_pct"]
    bore = _bore_of(profile)
    return (
        Facts(
            (
                (say("Longest run"), amount(answer["max_length_ft"], "ft", 0)),
                (say("Outlets worked out"), str(answer["outlets"])),
                (say("Pressure at the far end"), amount(answer["end_pressure_psi"], "psi")),
                (say("Evenness (EU)"), amount(answer["emission_uniformity"], "%", 0)),
                (say("Flow at the start"), amount(answer["inlet_flow_gpm"], "gpm", 2)),
                (say("Speed at the start"), amount(answer["inlet_velocity_ft_s"], "ft/s")),
            )
        ),
        profile_drawing(
            profile,
            inlet_psi=answer["inlet_pressure_psi"],
            lowest_allowed_psi=highest * (1.0 - allowed / 100.0),
            flow_limit_gpm=figure("velocity_limit") * bore**2 / figure("flow_constant"),
            speed_limit_ft_s=figure("velocity_limit"),
        ),
        profile_table(profile),
        Table(
            say("How long it may be"),
            (say("Pressure may vary by"), say("Longest run")),
            (
                *(
                    (amount(row["variation_pct"], "%", 0), amount(row["max_length_ft"], "ft", 0))
                    for row in answer["longest"]
                ),
                (
                    say("By the trade’s closed form"),
                    amount(answer["closed_form_length_ft"], "ft", 0),
                ),
            ),
        ),
    )


def _bore_of(profile: list[dict[str, Any]]) -> float:
    """The bore that flow and speed of the first piece tell."""
    first = profile[0]
    return float((figure("flow_constant") * first["line_flow_gpm"] / first["velocity_ft_s"]) ** 0.5)


_LONGEST_STEPS = (BORE, OUTLET_FLOW, SPACING, _INLET, EMITTER, RISE, _VARIATION, _THERE)

LONGEST_FLOW = Flow(
    id="longest-run",
    title="How long a drip line may be",
    trade="longest lateral",
    about="How far one line of emitters may run before its far end gets too little.",
    together=(
        (
            "bore",
            "outlet_flow",
            "spacing",
            "inlet_pressure",
            "emitter",
            "rise",
            "variation",
            "length",
        ),
    ),
    pages=("The line and its emitters",),
    steps=_LONGEST_STEPS,
    work_out=_longest,
    show=_show_longest,
    learn=lambda given, answer: {"last.longest_ft": answer["max_length_ft"]},
    refusals={
        "": ("inlet_pressure", "emitter", "bore", "length"),
        **dict.fromkeys(("uneven", "too_low"), ("length", "bore", "emitter", "inlet_pressure")),
    },
    cautions=("local_code",),
)

FLOWS: tuple[Flow, ...] = (LOSS_FLOW, LONGEST_FLOW)
