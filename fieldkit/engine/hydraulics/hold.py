"""Whether each joint holds the highest pressure, hot, and how hard the water pushes on it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from fieldkit.engine.cautions import caution
from fieldkit.engine.pressure_test.part_ceiling import LinePart, part_ceiling
from fieldkit.engine.problems import Problem, require
from fieldkit.engine.strength import (
    HOLDS,
    MARGINAL,
    load_figure,
    rating_figure,
    share_of_limit,
    verdict_of,
)
from fieldkit.engine.words import Figure, Text, say
from fieldkit.engine.working import Answer, Line, precise, worked
from fieldkit.tables.fittings import joints
from fieldkit.tables.pipes import Pipe

#: Tube joints whose seal is round the outside of the tubing; the others seal in its bore.


def thrust_lbf(pressure_psi: float, seal_diameter_in: float) -> float:
    """Push of the water on an end, cap, tee or shut valve: P π d² / 4.

    Parameters
    ----------
    pressure_psi : float
        Pressure, 0 or more. [psi]
    seal_diameter_in : float
        Diameter where it seals: outside of a spigot, bore of tubing on a barb; above 0. [in]

    Returns
    -------
    float
        Force that pushes it off. [lbf]

    Raises
    ------
    OutOfRange
        A value is outside the range given above.

    Source
    ------
    statics. Status: computed.

    Examples
    --------
    >>> round(thrust_lbf(60.0, 0.600)), round(thrust_lbf(60.0, 2.375))
    (17, 266)
    """
    require(pressure_psi, "static_pressure", at_least=0.0, unit="psi", places=1)
    require(seal_diameter_in, "joint.od", above=0.0, unit="in")
    return pressure_psi * math.pi * seal_diameter_in**2 / 4.0


def bend_thrust_lbf(pressure_psi: float, seal_diameter_in: float, bend_deg: float) -> float:
    """Push of the water on a bend: 2 P A sin(θ/2).

    Parameters
    ----------
    pressure_psi : float
        Pressure, 0 or more. [psi]
    seal_diameter_in : float
        Outside diameter at the seal, above 0. [in]
    bend_deg : float
        Angle through which the pipe turns, above 0, at most 180. [°]

    Returns
    -------
    float
        Force outward along the bend's middle. [lbf]

    Raises
    ------
    OutOfRange
        A value is outside the range given above.

    Source
    ------
    awwa-m23. Status: secondary.

    Examples
    --------
    >>> round(bend_thrust_lbf(150.0, 9.05, 45.0))
    7385
    """
    require(bend_deg, "joint.bend", above=0.0, at_most=180.0, unit="°", places=1)
    whole = thrust_lbf(pressure_psi, seal_diameter_in)
    return 2.0 * whole * math.sin(math.radians(bend_deg) / 2.0)


@dataclass(frozen=True, slots=True)
class HeldJoint:
    """A joint to be judged: its kind, what it is made on, and what is known of the seal.

    ``pipe`` is the row of the pipe or tubing it is made on, None where only a size or nothing
    was told. ``rating_psi`` is the maker's own figure and wins over the tables.
    """

    kind: str
    pipe: Pipe | None = None
    seal_in: float | None = None
    clamps: int | None = None
    rating_psi: float | None = None
    bend_deg: float | None = None
    field: str = "joint"


@dataclass(frozen=True, slots=True)
class Held:
    """How one joint fares."""

    kind: str
    name: str
    ceiling_psi: float
    heat_factor: float
    limit_psi: float
    thrust_lbf: float | None
    verdict: str


@dataclass(frozen=True, kw_only=True, slots=True)
class HoldAnswer(Answer):
    """Every joint against the highest pressure; the weakest one gives the limit."""

    limit_psi: float
    peak_psi: float
    thrust_lbf: float | None
    weakest: str
    static_psi: float
    surge_psi: float | None
    temperature_f: float
    margin_psi: float
    joints: tuple[Held, ...]


@dataclass(frozen=True, slots=True)
class Limit:
    """What a joint bears cool and hot, and where the figure rests."""

    cool_psi: float
    factor: float
    hot_psi: float
    source: str
    status: str


def joint_limit(joint: HeldJoint, temperature_f: float) -> Limit:
    """The pressure a joint may see at a temperature: its ceiling times the heat factor.

    The one figure of ``part_ceiling``, which plans of a test and transitions use too.

    Parameters
    ----------
    joint : HeldJoint
        The joint.
    temperature_f : float
        Hottest temperature of wall or water. [°F]

    Returns
    -------
    Limit
        Ceiling at 73 °F, factor and product. [psi]

    Raises
    ------
    Problem
        No such kind of joint.
    OutOfRange
        Hotter than the heat table.

    Source
    ------
    fitting-share-notes for sockets and threads, trade for tube ends; ppfa-3-96, ppi-tr-3 and
    cpvc-heat-tables for heat. Status: common practice, no source.

    Examples
    --------
    >>> joint_limit(HeldJoint("ring"), 120.0).hot_psi
    20.0
    """
    if joint.kind not in joints():
        raise Problem(
            f"{joint.field}.kind",
            joint.kind[:40],
            say("There is no joint of that kind here."),
            say("Choose one of: {kinds}.", kinds=", ".join(joints())),
        )
    part = LinePart(
        kind=joint.kind,
        pipe=joint.pipe,
        clamps=joint.clamps,
        rating_psi=joint.rating_psi,
        field=joint.field,
    )
    found = part_ceiling(part, temperature_f, 0.0)
    cool = found.rating_psi * found.joint_factor
    return Limit(cool, found.heat_factor, found.ceiling_psi, found.source, found.status)


def hold(
    held: tuple[HeldJoint, ...],
    *,
    static_psi: float,
    surge_psi: float | None,
    temperature_f: float,
    assumed: tuple[Line, ...] = (),
) -> HoldAnswer:
    """Judge every joint of an assembly; the first that would give is named.

    Parameters
    ----------
    held : tuple of HeldJoint
        The joints, 1 or more.
    static_psi : float
        Highest steady pressure, 0 or more. [psi]
    surge_psi : float, optional
        Surge on top; a share of the limit is kept free where it is not known. [psi]
    temperature_f : float
        Hottest temperature of wall or water, up to 140. [°F]
    assumed : tuple of Line
        Defaults that the caller filled in.

    Returns
    -------
    HoldAnswer
        Verdict, limit, peak and thrust with their working. [psi]

    Raises
    ------
    Problem
        No joint, or one of no kind we know.
    OutOfRange
        A value is outside the range given above.

    Source
    ------
    trade for the ceilings; nrcs-mo-livestock for the margin. Status: common practice, no source.
    """
    require(static_psi, "static_pressure", at_least=0.0, unit="psi", places=1)
    if surge_psi is not None:
        require(surge_psi, "surge", at_least=0.0, unit="psi", places=1)
    if not held:
        raise Problem("joint", None, say("No joint was given."), say("Name at least one joint."))
    peak = static_psi + (surge_psi or 0.0)
    limits = [joint_limit(joint, temperature_f) for joint in held]
    rows = tuple(
        Held(
            joint.kind,
            joints()[joint.kind].name,
            limit.cool_psi,
            limit.factor,
            limit.hot_psi,
            _push(joint, peak),
            verdict_of(static_psi, surge_psi, limit.hot_psi),
        )
        for joint, limit in zip(held, limits, strict=True)
    )
    weakest = min(rows, key=lambda row: row.limit_psi)
    pushed = max(
        (row for row in rows if row.thrust_lbf is not None),
        key=lambda row: (row is weakest, row.thrust_lbf),
        default=None,
    )
    push = None if pushed is None else pushed.thrust_lbf
    return HoldAnswer(
        verdict=weakest.verdict,
        headline=_headline(weakest, peak, temperature_f),
        cautions=_cautions(held, surge_psi, temperature_f),
        working=(
            *assumed,
            *(_limit_line(j, x, temperature_f) for j, x in zip(held, limits, strict=True)),
            _peak_line(static_psi, surge_psi, peak),
            _verdict_line(weakest, surge_psi, peak),
            _thrust_line(None if pushed is None else held[rows.index(pushed)], peak),
        ),
        limit_psi=weakest.limit_psi,
        peak_psi=peak,
        thrust_lbf=push,
        weakest=weakest.kind,
        static_psi=static_psi,
        surge_psi=surge_psi,
        temperature_f=temperature_f,
        margin_psi=weakest.limit_psi - peak,
        joints=rows,
    )


def _push(joint: HeldJoint, peak: float) -> float | None:
    seal = _seal_in(joint)
    if seal is None:
        return None
    if joint.bend_deg is not None:
        return bend_thrust_lbf(peak, seal, joint.bend_deg)
    return thrust_lbf(peak, seal)


def _seal_in(joint: HeldJoint) -> float | None:
    """Diameter at which the joint seals, where it is known. [in]"""
    if joint.seal_in is not None or joint.pipe is None:
        return joint.seal_in
    bore_seal = joints()[joint.kind].seals == "bore"
    return joint.pipe.bore_in if bore_seal else joint.pipe.od_in


def _headline(weakest: Held, peak: float, temperature_f: float) -> Text:
    figures = {
        "name": weakest.name,
        "limit": rating_figure(weakest.limit_psi),
        "peak": load_figure(peak),
        "heat": Figure(temperature_f, "°F"),
    }
    if weakest.verdict == HOLDS:
        return say("It holds: {peak} against {limit} at {heat}. Weakest joint: {name}.", **figures)
    if weakest.verdict == MARGINAL:
        return say("Too close: {peak} against {limit} at {heat}. Weakest joint: {name}.", **figures)
    return say("It lets go: {peak} against {limit} at {heat}. First to give: {name}.", **figures)


def _cautions(
    held: tuple[HeldJoint, ...], surge_psi: float | None, temperature_f: float
) -> tuple[Text, ...]:
    notes = []
    if surge_psi is None:
        notes.append(
            say(
                "Surge was not given, so only {share} of the limit may be used.",
                share=Figure(share_of_limit(None).value * 100, "%"),
            )
        )
    if any(joint.kind == "npt" for joint in held) and temperature_f > 110.0:
        notes.append(say("No plastic pipe thread is used above {limit}.", limit=Figure(110, "°F")))
    names = ["stand_clear", "local_code"]
    if surge_psi is not None:
        names.insert(0, "surge_screen")
    return (*notes, *caution(*names))


def _limit_line(joint: HeldJoint, limit: Limit, temperature_f: float) -> Line:
    return Line(
        joints()[joint.kind].name,
        "limit = ceiling × factor; the heat factor of the next hotter row",
        {
            "ceiling": precise(limit.cool_psi, "psi"),
            "factor": precise(limit.factor),
            "at": Figure(temperature_f, "°F"),
        },
        limit.hot_psi,
        "psi",
        limit.source,
        limit.status,
    )


def _peak_line(static_psi: float, surge_psi: float | None, peak: float) -> Line:
    return worked(
        "highest_pressure" if surge_psi is not None else "highest_pressure_without_surge",
        peak,
        static=precise(static_psi, "psi"),
        surge=precise(surge_psi or 0.0, "psi"),
    )


def _verdict_line(weakest: Held, surge_psi: float | None, peak: float) -> Line:
    share = share_of_limit(surge_psi)
    return worked(
        "share_of_limit" if weakest.limit_psi else "share_of_no_limit",
        peak / weakest.limit_psi * 100 if weakest.limit_psi else None,
        {
            "highest pressure": precise(peak, "psi"),
            "limit": precise(weakest.limit_psi, "psi"),
            "share": Figure(share.value * 100, "%"),
        },
        rests=share,
    )


def _thrust_line(joint: HeldJoint | None, peak: float) -> Line:
    formula = "rule: give a size to have it"
    inputs = {"P": precise(peak, "psi")}
    if joint is not None:
        formula = "P π d² / 4; d where it seals"
        inputs["d"] = precise(_seal_in(joint) or 0.0, "in")
        if joint.bend_deg is not None:
            formula = "2 P (π d² / 4) sin(π θ / 360); d where it seals"
            inputs["θ"] = precise(joint.bend_deg, "°")
    return Line(
        "push on the end",
        formula,
        inputs,
        None if joint is None else _push(joint, peak),
        "lbf",
        "statics",
        "computed",
    )
