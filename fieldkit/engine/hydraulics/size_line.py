"""Size this line: does it work, is it safe, and what to change first if not."""

from __future__ import annotations

from dataclasses import dataclass

from fieldkit.engine.cautions import caution
from fieldkit.engine.hydraulics.friction import psi_per_ft
from fieldkit.engine.hydraulics.growth import length_change_in
from fieldkit.engine.hydraulics.hold import Held, HeldJoint
from fieldkit.engine.hydraulics.job_line import (
    Demand,
    Finding,
    Fit,
    Head,
    Pressures,
    Rigid,
    Tubing,
    fit_of,
    head_of,
    line_of,
    main_loss,
    pressures_of,
    weak_joints,
    weakest_tube_limit,
)
from fieldkit.engine.hydraulics.lateral import LateralAnswer, Outlet
from fieldkit.engine.hydraulics.pipe_loss import FrictionAnswer
from fieldkit.engine.problems import require
from fieldkit.engine.strength import LETS_GO, load_figure, rating_figure
from fieldkit.engine.water import water_at
from fieldkit.engine.words import Figure, Text, say
from fieldkit.engine.working import Answer, Line, precise, worked
from fieldkit.tables.fittings import is_tube_joint
from fieldkit.tables.hydraulics import Hydraulic, figure, hydraulics
from fieldkit.tables.materials import materials

#: Change between a hot afternoon and a cold morning that the growth is shown for. [°F]
SWING_F = 50.0


@dataclass(frozen=True, slots=True)
class JobJoint:
    """One joint of the job: what it sees, what it holds hot, and the push on it."""

    kind: str
    name: str
    peak_psi: float
    limit_psi: float
    thrust_lbf: float | None
    verdict: str


@dataclass(frozen=True, kw_only=True, slots=True)
class SizeAnswer(Answer):
    """The whole line in the order in which water meets it."""

    flow_gpm: float
    main_loss_psi: float
    main_velocity_ft_s: float
    available_psi: float
    regulator_needed: bool
    regulator_psi: float | None
    inlet_psi: float
    order: tuple[Text, ...]
    tubing: str
    fits: tuple[Fit, ...]
    served: bool
    length_ft: float
    longest_ft: float
    end_pressure_psi: float | None
    lowest_allowed_psi: float | None
    tube_velocity_ft_s: float
    velocity_limit_ft_s: float
    velocity_limit_gpm: float
    emission_uniformity: float | None
    profile: tuple[Outlet, ...]
    rigid_surge_psi: float
    rigid_peak_psi: float
    tube_surge_psi: float
    joints: tuple[JobJoint, ...]
    thrust_lbf: float | None
    gives_first: str | None
    findings: tuple[Finding, ...]
    growth_in: float
    temperature_f: float
    rigid_temperature_f: float


@dataclass(frozen=True, slots=True)
class Job:
    """Everything that a line is sized from. ``tubing`` is None where a size is to be found."""

    static_psi: float
    rigid: Rigid
    tubing: Tubing | None
    sizes: tuple[Tubing, ...]
    demand: Demand
    regulator_psi: float | None
    joints: tuple[HeldJoint, ...]
    temperature_f: float
    rigid_temperature_f: float
    closing_s: float | None
    valve: str | None = None
    assumed: tuple[Line, ...] = ()


def size_line(job: Job) -> SizeAnswer:
    """Work the job's line out from supply to last outlet, and say what to change first.

    Parameters
    ----------
    job : Job
        Supply, pipes, demand, joints and heat.

    Returns
    -------
    SizeAnswer
        Verdict ``works`` or ``change``, with every figure and its working. [psi]

    Raises
    ------
    OutOfRange
        A value is outside the range of a formula or table.

    Source
    ------
    nrcs-430, nrcs-mo-livestock, christiansen, joukowsky. Status: secondary.
    """
    require(job.static_psi, "pressure", above=0.0, unit="psi", places=0)
    loss = main_loss(job.rigid, job.demand.flow_gpm)
    head = head_of(
        static_psi=job.static_psi,
        main_loss_psi=loss.loss_psi,
        joint_limit_psi=weakest_tube_limit(job.joints, job.temperature_f),
        has_regulator_psi=job.regulator_psi,
    )
    allowed = _allowed(job.demand, head)
    usable = head.enough and allowed is not None
    fits = tuple(
        fit_of(size, job.demand, head.inlet_psi, allowed)
        if usable and allowed is not None
        else Fit(size, False, 0.0, None, None, 0.0)
        for size in (job.sizes if job.tubing is None else (job.tubing, *_larger(job)))
    )
    chosen = fits[0] if job.tubing is not None else _pick(fits)
    line = None
    if allowed is not None and chosen.end_psi is not None:
        line = line_of(
            chosen.tubing, job.demand, head.inlet_psi, allowed, outlets=job.demand.outlets
        )
    pressures = pressures_of(
        rigid=job.rigid,
        tubing=chosen.tubing,
        head=head,
        static_psi=job.static_psi,
        rigid_velocity=loss.velocity_ft_s,
        tube_velocity=chosen.velocity_ft_s,
        tube_length_ft=job.demand.length_ft,
        closing_s=job.closing_s,
        valve=job.valve,
        joints=job.joints,
        temperature_f=job.temperature_f,
        rigid_temperature_f=job.rigid_temperature_f,
    )
    return _answer(job, loss, head, fits, chosen, line, pressures, allowed)


def _larger(job: Job) -> tuple[Tubing, ...]:
    """The sizes above the one that is there, to change to."""
    own = job.tubing.bore_in if job.tubing is not None else 0.0
    return tuple(size for size in job.sizes if size.bore_in > own + 0.005)


def _pick(fits: tuple[Fit, ...]) -> Fit:
    return next((fit for fit in fits if fit.serves), fits[-1])


def _allowed(demand: Demand, head: Head) -> float | None:
    """Spread allowed: the usual one; down to the least pressure of compensating emitters."""
    if demand.exponent > 0.0:
        return figure("variation_usual") / 100.0
    least = figure("emitter_least")
    return 1.0 - least / head.inlet_psi if head.inlet_psi > least else None


def _answer(  # noqa: PLR0917  -- gathers what the steps of ``size_line`` found
    job: Job,
    loss: FrictionAnswer,
    head: Head,
    fits: tuple[Fit, ...],
    chosen: Fit,
    line: LateralAnswer | None,
    pressures: Pressures,
    allowed: float | None,
) -> SizeAnswer:
    rows = _joint_rows(pressures, job, head)
    weak = weak_joints(rows)
    findings = _findings(job, loss, head, fits, chosen, weak)
    tube = chosen.tubing
    pushes = [row.thrust_lbf for row, _ in rows if row.thrust_lbf is not None]
    longest = f"{chosen.longest_ft:.0f} ft"
    return SizeAnswer(
        verdict="change" if findings else "works",
        headline=_headline(job, head, chosen, findings),
        cautions=caution("surge_screen", "stand_clear", "backflow", "local_code"),
        working=(
            *job.assumed,
            *_working(job, loss, head, chosen),
            *pressures.rigid.working[-3:],
            *(() if line is None else line.working),
        ),
        flow_gpm=job.demand.flow_gpm,
        main_loss_psi=loss.loss_psi,
        main_velocity_ft_s=loss.velocity_ft_s,
        available_psi=head.available_psi,
        regulator_needed=head.regulator_needed,
        regulator_psi=head.regulator_psi,
        inlet_psi=head.inlet_psi,
        order=_order(job, head, tube, longest),
        tubing=tube.name,
        fits=fits,
        served=chosen.serves,
        length_ft=job.demand.length_ft,
        longest_ft=chosen.longest_ft,
        end_pressure_psi=chosen.end_psi,
        lowest_allowed_psi=None if allowed is None else (1.0 - allowed) * head.inlet_psi,
        tube_velocity_ft_s=chosen.velocity_ft_s,
        velocity_limit_ft_s=figure("velocity_limit"),
        velocity_limit_gpm=figure("velocity_limit") * tube.bore_in**2 / figure("flow_constant"),
        emission_uniformity=None if line is None else line.emission_uniformity,
        profile=() if line is None else line.profile,
        rigid_surge_psi=pressures.rigid.surge_psi,
        rigid_peak_psi=pressures.rigid.peak_psi,
        tube_surge_psi=pressures.tube.surge_psi,
        joints=tuple(
            JobJoint(row.kind, row.name, peak, row.limit_psi, row.thrust_lbf, row.verdict)
            for row, peak in rows
        ),
        thrust_lbf=max(pushes, default=None),
        gives_first=weak[0][0].name if weak else None,
        findings=findings,
        growth_in=length_change_in(materials()["drip"].alpha_per_f, job.demand.length_ft, SWING_F),
        temperature_f=job.temperature_f,
        rigid_temperature_f=job.rigid_temperature_f,
    )


def _joint_rows(pressures: Pressures, job: Job, head: Head) -> tuple[tuple[Held, float], ...]:
    """Each joint with the highest pressure that it sees, in the order they were given."""
    tube_peak = head.regulator_psi
    if tube_peak is None:
        tube_peak = job.static_psi + (pressures.rigid.transmitted_psi or 0.0)
    return (
        *((row, pressures.rigid.peak_psi) for row in pressures.rigid_joints),
        *((row, tube_peak) for row in pressures.tube_joints),
    )


def _order(job: Job, head: Head, tube: Tubing, longest: str) -> tuple[Text, ...]:
    """The parts in the order in which water meets them."""
    steps = [
        say("Backflow preventer and valve, as the local code wants them."),
        say("Filter of {mesh} mesh, after the valve.", mesh=Figure(figure("filter_mesh"))),
    ]
    if head.regulator_psi is not None:
        steps.append(
            say(
                "Pressure regulator of {setting}, after the filter.",
                setting=Figure(head.regulator_psi, "psi"),
            )
        )
    else:
        steps.append(say("No pressure regulator is needed at this pressure."))
    steps.append(
        say(
            "{length} of {pipe} to the tubing.",
            length=Figure(job.rigid.length_ft, "ft"),
            pipe=job.rigid.name,
        )
    )
    steps.append(say("{tube}, no run over {longest}.", tube=tube.name, longest=longest))
    steps.append(say("A flush cap at the far end. Open it once before the emitters go in."))
    return tuple(steps)


def _headline(job: Job, head: Head, chosen: Fit, findings: tuple[Finding, ...]) -> Text:
    if findings:
        return say("Change something first: {what}", what=findings[0].what)
    figures = {"length": Figure(job.demand.length_ft, "ft"), "tube": chosen.tubing.name}
    if head.regulator_needed and head.regulator_psi is not None:
        return say(
            "It works with a {setting} regulator: {length} of {tube} serves every outlet.",
            setting=Figure(head.regulator_psi, "psi"),
            **figures,
        )
    return say("It works: {length} of {tube} serves every outlet and every joint holds.", **figures)


def _findings(  # noqa: PLR0917
    job: Job,
    loss: FrictionAnswer,
    head: Head,
    fits: tuple[Fit, ...],
    chosen: Fit,
    weak: tuple[tuple[Held, float], ...],
) -> tuple[Finding, ...]:
    """What is wrong, the most dangerous first, each with what would put it right."""
    found = [_joint_finding(one, job, head) for one in weak]
    if not head.enough or (job.demand.outlets > 1 and head.inlet_psi <= figure("emitter_least")):
        found.append(
            Finding(
                say(
                    "only {psi} is left for the tubing, and emitters want over {least}.",
                    psi=rating_figure(max(head.inlet_psi, 0.0)),
                    least=Figure(figure("emitter_least"), "psi"),
                ),
                say("Use larger pipe, fewer outlets at once, or more pressure."),
            )
        )
    elif not chosen.serves:
        found.append(_size_finding(job, fits, chosen))
    limit = figure("velocity_limit")
    if loss.velocity_ft_s > limit:
        found.append(
            Finding(
                say(
                    "water runs at {speed} in the rigid pipe.",
                    speed=Figure(loss.velocity_ft_s, "ft/s", 1),
                ),
                say(
                    "Use a larger pipe, or water in turns. Keep under {limit}.",
                    limit=Figure(limit, "ft/s"),
                ),
            )
        )
    return tuple(found)


def _joint_finding(worst: tuple[Held, float], job: Job, head: Head) -> Finding:
    held, peak = worst
    figures = {
        "name": held.name,
        "peak": load_figure(peak),
        "limit": rating_figure(held.limit_psi),
        "heat": Figure(
            job.temperature_f if is_tube_joint(held.kind) else job.rigid_temperature_f, "°F"
        ),
    }
    lets_go = held.verdict == LETS_GO
    what = (
        say("a joint ({name}) sees {peak} and holds {limit} at {heat}.", **figures)
        if lets_go
        else say("a joint ({name}) is close: {peak} against {limit} at {heat}.", **figures)
    )
    if held.limit_psi <= 0.0:
        return Finding(what, say("Use another kind of joint, or keep it cool."))
    if is_tube_joint(held.kind) and head.regulator_psi is None:
        return Finding(what, say("Put in a pressure regulator, use a stronger joint, or shade it."))
    if is_tube_joint(held.kind):
        return Finding(what, say("Shade or bury it, use a stronger joint, or a lower regulator."))
    return Finding(what, say("Shut the valve more slowly, or slow the water with a larger pipe."))


def _size_finding(job: Job, fits: tuple[Fit, ...], chosen: Fit) -> Finding:
    what = (
        say("{tube} is too small for this line.", tube=chosen.tubing.name)
        if job.tubing is not None
        else say("no listed size serves a line this long.")
    )
    better = next((fit for fit in fits if fit.serves), None)
    if better is not None:
        return Finding(what, say("Use {tube}, or split the line.", tube=better.tubing.name))
    if chosen.longest_ft >= job.demand.spacing_ft:
        return Finding(
            what,
            say(
                "Keep each run to {longest}: feed it from its middle, or split it.",
                longest=Figure(chosen.longest_ft, "ft"),
            ),
        )
    return Finding(what, say("Use fewer or smaller outlets, or larger tubing."))


def _row_line(row: Hydraulic) -> Line:
    return Line(row.what, "rule: limit", {}, row.value, row.unit, row.source, row.status)


def _working(job: Job, loss: FrictionAnswer, head: Head, chosen: Fit) -> tuple[Line, ...]:
    rows = hydraulics()
    return (
        worked(
            "flow_of_all_outlets",
            job.demand.flow_gpm,
            N=job.demand.outlets,
            q=precise(job.demand.gph, "gph"),
        ),
        worked(
            "loss_in_the_rigid_pipe",
            loss.loss_psi,
            f=precise(loss.friction_factor),
            L=precise(job.rigid.length_ft, "ft"),
            d=precise(job.rigid.bore_in, "in"),
            V=precise(loss.velocity_ft_s, "ft/s"),
            g=precise(figure("gravity"), "ft/s²"),
            w=precise(psi_per_ft(water_at(loss.temperature_f).density_kg_m3), "psi/ft"),
            barbs=precise(loss.barb_loss_psi, "psi"),
        ),
        worked(
            "left_for_the_tubing",
            head.available_psi,
            rests=rows["filter_drop"],
            static=precise(job.static_psi, "psi"),
            pipe=precise(loss.loss_psi, "psi"),
            filter=precise(rows["filter_drop"].value, "psi"),
        ),
        worked(
            "regulator",
            head.regulator_psi,
            {"there is one": "yes" if job.regulator_psi is not None else "no"},
            rests=rows["regulator_default"],
        ),
        worked(
            "speed_in_the_tubing",
            chosen.velocity_ft_s,
            Q=precise(chosen.flow_gpm, "gpm"),
            d=precise(chosen.tubing.bore_in, "in"),
        ),
        _row_line(rows["velocity_limit"]),
    )
