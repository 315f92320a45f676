"""Turn a sprinkler riser into a feed for drip tubing: what it gives, and what to do."""

from __future__ import annotations

import math
from dataclasses import dataclass

from fieldkit.engine.cautions import caution
from fieldkit.engine.choosing.transition import Transition
from fieldkit.engine.hydraulics.friction import FLOW_CONSTANT
from fieldkit.engine.hydraulics.hold import HeldJoint, joint_limit
from fieldkit.engine.hydraulics.job_line import Head, head_of
from fieldkit.engine.hydraulics.lateral import GPH_PER_GPM, LateralAnswer, lateral
from fieldkit.engine.hydraulics.march import Layout, Pipe, with_barbs
from fieldkit.engine.problems import OutOfRange, require
from fieldkit.engine.strength import rating_figure
from fieldkit.engine.words import Figure, Text, join, say
from fieldkit.engine.working import Answer, Line, precise, worked
from fieldkit.tables.fittings import is_tube_joint
from fieldkit.tables.hydraulics import figure, hydraulics


def emitters_fed(flow_gpm: float, emitter_gph: float) -> int:
    """Emitters that a flow feeds.

    Parameters
    ----------
    flow_gpm : float
        Flow that may be planned for, 0 or more. [gpm]
    emitter_gph : float
        Flow of one emitter, above 0. [gph]

    Returns
    -------
    int
        Whole emitters. [1]

    Source
    ------
    statics. Status: computed.

    Examples
    --------
    >>> emitters_fed(1.125, 1.0)
    67
    """
    require(emitter_gph, "outlet_flow", above=0.0, unit="gph")
    return math.floor(flow_gpm * GPH_PER_GPM / emitter_gph + 1e-9)


def gpm_at_limit(bore_in: float) -> float:
    """Flow at which the water in a bore reaches the usual limit of speed.

    Parameters
    ----------
    bore_in : float
        Inside diameter, above 0. [in]

    Returns
    -------
    float
        Flow. [gpm]

    Source
    ------
    nrcs-430. Status: from memory.

    Examples
    --------
    >>> round(gpm_at_limit(0.526), 1)
    3.4
    """
    return figure("velocity_limit") * bore_in * bore_in / FLOW_CONSTANT


@dataclass(frozen=True, slots=True)
class Riser:
    """What is known of the riser and of what it shall feed.

    ``others_capped``: the other heads of that valve are capped, so their water comes here.
    """

    size: str
    bore_in: float
    head_gpm: float
    heads: int
    others_capped: bool
    static_psi: float
    emitter_gph: float
    spacing_ft: float
    tube_bore_in: float
    tube_heat_f: float
    rigid_heat_f: float
    assumed: tuple[Line, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class RiserAnswer(Answer):
    """What the riser may feed, how, and with which parts."""

    flow_had_gpm: float
    planned_gpm: float
    limited_by: str
    emitters: int
    heads_to_cap: int
    regulator_psi: float | None
    inlet_psi: float
    longest_ft: float
    emitters_a_run: int
    runs: int
    steps: tuple[Text, ...]
    transition: Transition


def riser_to_tube(riser: Riser, parts: Transition) -> RiserAnswer:
    """How many emitters a riser may feed, what to cap, and the steps in order.

    Parameters
    ----------
    riser : Riser
        The riser, its head and what it shall feed.
    parts : Transition
        The ways from the riser's end to the tubing.

    Returns
    -------
    RiserAnswer
        Emitters, regulator, longest run, steps and parts. [gpm]

    Raises
    ------
    OutOfRange
        A value is outside the range of a formula or table.

    Source
    ------
    trade for the share of a flow that is planned for. Status: common practice, no source.
    """
    require(riser.head_gpm, "head_flow", above=0.0, unit="gpm")
    require(riser.static_psi, "pressure", above=0.0, unit="psi", places=0)
    had = riser.head_gpm * (riser.heads if riser.others_capped else 1)
    share = figure("supply_share")
    top = gpm_at_limit(riser.bore_in)
    planned = min(share * had, top)
    best = _tube_end_psi(parts, riser.tube_heat_f)
    head = head_of(
        static_psi=riser.static_psi,
        main_loss_psi=0.0,
        joint_limit_psi=best,
        has_regulator_psi=None,
    )
    emitters = emitters_fed(planned, riser.emitter_gph)
    run = _run(riser, head)
    a_run = 0 if run is None else run.outlets
    runs = math.ceil(emitters / a_run) if a_run else 0
    cap = riser.heads - 1 if riser.others_capped else 0
    works = bool(emitters and a_run and parts.assemblies)
    return RiserAnswer(
        verdict="works" if works else "change",
        headline=_headline(emitters, a_run, head, parts),
        cautions=(*_notes(riser), *caution("depressurise", "backflow", "local_code")),
        working=(*riser.assumed, *_working(riser, had, planned, top, emitters, run)),
        flow_had_gpm=had,
        planned_gpm=planned,
        limited_by=say("speed in the riser") if planned == top else say("the flow it had"),
        emitters=emitters,
        heads_to_cap=cap,
        regulator_psi=head.regulator_psi,
        inlet_psi=head.inlet_psi,
        longest_ft=0.0 if run is None else run.max_length_ft,
        emitters_a_run=a_run,
        runs=runs,
        steps=_steps(head, emitters, runs, cap, parts),
        transition=parts,
    )


def _tube_end_psi(parts: Transition, tube_heat_f: float) -> float:
    """What the best of the tube ends on offer holds on tubing that hot. [psi]"""
    ends = (
        joint_limit(HeldJoint(joint.kind), tube_heat_f).hot_psi
        for one in parts.assemblies
        for joint in one.joints
        if is_tube_joint(joint.kind)
    )
    return max(ends, default=figure("regulator_high"))


def _run(riser: Riser, head: Head) -> LateralAnswer | None:
    """The longest run of the tubing from there; None where there is too little pressure."""
    if head.inlet_psi <= figure("emitter_least"):
        return None
    try:
        return lateral(
            pipe=with_barbs(Pipe(riser.tube_bore_in, c=figure("c_pe"))),
            layout=Layout(riser.spacing_ft, riser.spacing_ft),
            outlet_gph=riser.emitter_gph,
            inlet_psi=head.inlet_psi,
        )
    except OutOfRange:
        return None


def _headline(emitters: int, a_run: int, head: Head, parts: Transition) -> Text:
    if not a_run:
        return say(
            "Only {psi} would reach the tubing: too little for emitters.",
            psi=rating_figure(max(head.inlet_psi, 0.0)),
        )
    if not parts.assemblies:
        return say("It could feed {emitters} emitters, but no listed part fits.", emitters=emitters)
    return say("This riser can feed up to {emitters} emitters.", emitters=emitters)


def _notes(riser: Riser) -> tuple[Text, ...]:
    notes = [
        say("An automatic valve may not shut on a very small flow. Check its maker’s least flow.")
    ]
    if riser.heads > 1 and not riser.others_capped:
        notes.append(
            say("Sprinklers and emitters on one valve never suit: one floods or one dries out.")
        )
    if riser.tube_heat_f > riser.rigid_heat_f:
        notes.append(
            say(
                "Parts are rated at {rigid}. Bare tubing may reach {tube} and hold less: shade it.",
                rigid=Figure(riser.rigid_heat_f, "°F"),
                tube=Figure(riser.tube_heat_f, "°F"),
            )
        )
    return tuple(notes)


def _steps(head: Head, emitters: int, runs: int, cap: int, parts: Transition) -> tuple[Text, ...]:
    steps = [
        say("Shut the supply and let the pressure out at the head."),
        say("Unscrew the head. Let water run from the riser until it is clear."),
    ]
    if cap:
        steps.append(say("Cap the other {count} heads of that valve.", count=cap))
    steps.append(
        say(
            "Fit a filter of {mesh} mesh on the riser or after the valve.",
            mesh=Figure(figure("filter_mesh")),
        )
    )
    if head.regulator_psi is not None:
        steps.append(
            say(
                "Behind it fit a pressure regulator of {setting}.",
                setting=Figure(head.regulator_psi, "psi"),
            )
        )
    if parts.assemblies:
        named = join((part.name for part in parts.assemblies[0].parts), ", ")
        steps.append(say("From there to the tubing: {parts}.", parts=named))
    if runs > 1:
        steps.append(
            say(
                "Lay {runs} runs for up to {emitters} emitters, none longer than shown.",
                runs=runs,
                emitters=emitters,
            )
        )
    steps.append(say("Flush the tubing with its end open, then close the end."))
    steps.append(say("Give this valve its own, longer watering time."))
    return tuple(steps)


def _working(  # noqa: PLR0917  -- one line a figure
    riser: Riser,
    had: float,
    planned: float,
    top: float,
    emitters: int,
    run: LateralAnswer | None,
) -> tuple[Line, ...]:
    rows = hydraulics()
    return (
        worked(
            "flow_it_had",
            had,
            heads=riser.heads if riser.others_capped else 1,
            each=precise(riser.head_gpm, "gpm"),
        ),
        worked(
            "flow_to_plan_for",
            planned,
            rests=rows["supply_share"],
            share=precise(rows["supply_share"].value),
            had=precise(had, "gpm"),
            v=precise(rows["velocity_limit"].value, "ft/s"),
            d=precise(riser.bore_in, "in"),
        ),
        worked(
            "emitters",
            float(emitters),
            flow=precise(planned, "gpm"),
            one=precise(riser.emitter_gph, "gph"),
        ),
        *(() if run is None else run.working),
    )
