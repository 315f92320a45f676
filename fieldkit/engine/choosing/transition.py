"""From rigid pipe to tubing: the assemblies worth choosing between, and why not the others."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from fieldkit.engine.cautions import caution
from fieldkit.engine.choosing.assembly import Assembly, build, order_of, why
from fieldkit.engine.choosing.break_even import BreakEven, break_evens
from fieldkit.engine.choosing.fit import TubeJoint, socket_takes_outside
from fieldkit.engine.choosing.parts_list import PartsList, parts_list
from fieldkit.engine.choosing.refusals import Refused, one_reason, refusals, wrong_outside
from fieldkit.engine.choosing.rules import (
    Need,
    can_cement,
    clamps_on,
    joint_bears,
    sizes,
    tube_fits,
    tube_series,
    unwanted,
    waits,
)
from fieldkit.engine.choosing.search import OpenEnd, Rules, search
from fieldkit.engine.choosing.working import advice, too_close, work_lines
from fieldkit.engine.heat import heat_factor
from fieldkit.engine.joining.weld_parts import refuse_material
from fieldkit.engine.strength import load_figure, rating_figure
from fieldkit.engine.words import Figure, Span, Text, say, those
from fieldkit.engine.working import Answer
from fieldkit.tables.fittings import End, Joint, fittings, joints

#: Most parts, clamps apart: four for one tube at an end, one more for each further thing asked
#: (second tube, valve, cut or riser), and never more than six: nobody builds longer ones.
MOST_PARTS, NEVER_OVER = 4, 6


@dataclass(frozen=True, kw_only=True, slots=True)
class Transition(Answer):
    """``assemblies`` best first by the order of the list, none beaten on every count.

    Those that hold with no room to spare stand last; where all do, the verdict is "marginal".

    ``nearest`` is filled only where nothing does all that was asked; each of these says what
    it lacks. ``break_even_count`` is that of the first pair of ``break_even``.
    """

    assemblies: tuple[Assembly, ...]
    nearest: tuple[Assembly, ...]
    refused: tuple[Refused, ...]
    break_even_count: int | None
    break_even: tuple[BreakEven, ...]
    parts_list: PartsList | None


def transition(need: Need) -> Transition:
    """Every assembly from pipe to tubing that no other beats on all counts.

    Counts: cost (number of parts where prices are missing), minutes, wait for cement, pressure
    held, whether it can be used again, strength of hand.

    Parameters
    ----------
    need : Need
        The request.

    Returns
    -------
    Transition
        Assemblies, what was refused and why, break-even, parts list.

    Raises
    ------
    OutOfRange
        The temperature is outside the heat table.
    Refused
        The pipe is not PVC.

    Source
    ------
    trade for parts and joints (minutes, force, ceilings: common practice, no source).
    """
    heat = heat_factor("pvc", need.hottest_f)
    holds, tube_refused = tube_fits(need.tube)
    tube_heat = heat_factor(tube_series(need.tube.family), need.hottest_f)
    rated_psi = {way: way.ceiling_psi * tube_heat.factor for ways in holds.values() for way in ways}
    if need.pipe_od_in is not None and need.start == "pipe":
        misfit = socket_takes_outside(need.nominal, need.pipe_od_in)
        if misfit is not None:
            return _no_pipe(need, misfit.why)
    if need.start == "pipe":  # iron-pipe size of another plastic slides into PVC sockets
        refuse_material(need.pipe_material, "pvc.material")
    found = _assemblies(need, holds, rated_psi)
    nearest = () if found else _nearest(need, holds, rated_psi)
    refused = refusals(need, holds, tube_refused, rated_psi)
    pairs = break_evens(found, need.prices, need.labour_per_hour, need.wait_cost)
    return Transition(
        verdict="none" if not found else "found" if found[0].roomy else "marginal",
        headline=_headline(need, found, nearest),
        cautions=_cautions(need, (*found, *nearest)),
        working=work_lines(need, found, heat, pairs),
        assemblies=found,
        nearest=nearest,
        refused=(*_lacking(nearest, refused), *refused),
        break_even_count=next((pair.count for pair in pairs if pair.count is not None), None),
        break_even=pairs,
        parts_list=parts_list(found[0], need.count, need.prices) if found else None,
    )


def _assemblies(
    need: Need, holds: Mapping[End, tuple[TubeJoint, ...]], rated_psi: Mapping[TubeJoint, float]
) -> tuple[Assembly, ...]:
    rules = _rules(need, holds, rated_psi)
    built = [build(group, rules) for group in search(_start(need), rules)]
    built = [replace(one, roomy=need.with_room(one.holds_psi)) for one in built]
    built.sort(key=lambda one: order_of(one, "cheapest" in need.wants))
    return tuple(replace(one, why=why(one, built)) for one in built)


def _start(need: Need) -> tuple[OpenEnd, ...]:
    names = {"pipe": "pipe", "socket": "socket"}
    end = OpenEnd(need.start, need.nominal, False, False, names.get(need.start, "riser"))
    return (end, end) if need.place == "inline" else (end,)


def _rules(
    need: Need, holds: Mapping[End, tuple[TubeJoint, ...]], rated_psi: Mapping[TubeJoint, float]
) -> Rules:
    wait = waits(need)
    kinds = frozenset(row.id for row in joints().values() if _may_be_made(row, need, wait))
    rigid = {
        (kind, size): joint_bears(kind, size, need.pipe_class, need.hottest_f)
        for kind in kinds
        if joints()[kind].end_y != "tube"
        for size in sizes()
    }
    more = (need.branches - 1) + (need.place != "end") + need.valve
    return Rules(
        tube_ways={e: kept for e, ways in holds.items() if (kept := _kept(ways, kinds))},
        kinds=frozenset(
            kind for kind in kinds if joints()[kind].end_y == "tube" or rigid[kind, "1/2"] > 0
        ),
        rated_psi=rigid,
        tube_rated_psi=rated_psi,
        wait=wait,
        prices=need.prices,
        branches=need.branches,
        valve=need.valve,
        turn=need.place == "riser",
        inline=need.place == "inline",
        at_least_psi=need.pressure_psi or 0.0,
        reusable="reusable" in need.wants,
        metal=need.start_metal,
        only=need.only,
        most_parts=min(MOST_PARTS + more, NEVER_OVER),
    )


def _may_be_made(row: Joint, need: Need, wait: Mapping[str, float]) -> bool:
    """Whether a kind of joint is wanted, and can be made on what is there."""
    return (
        unwanted(row.id, need.wants) is None
        and (bool(wait) or not row.cemented)
        and (row.id != "hose" or need.start.startswith("hose"))
        and (not row.pipe_whole or clamps_on(need.pipe_class))
    )


def _kept(ways: tuple[TubeJoint, ...], kinds: frozenset[str]) -> tuple[TubeJoint, ...]:
    return tuple(way for way in ways if way.kind in kinds)


def _nearest(
    need: Need, holds: Mapping[End, tuple[TubeJoint, ...]], rated_psi: Mapping[TubeJoint, float]
) -> tuple[Assembly, ...]:
    """What comes closest where nothing does it all, each with what it lacks."""
    asked = need.wants & {"cheapest"}
    built = _assemblies(replace(need, wants=asked, pressure_psi=None), holds, rated_psi)
    named = [replace(one, lacks=_lacks(need, one)) for one in built]
    named = [one for one in named if one.lacks]
    return tuple(sorted(named, key=lambda one: (len(one.lacks), -one.holds_psi))[:5])


def _lacking(nearest: Sequence[Assembly], refused: Sequence[Refused]) -> list[Refused]:
    """What comes closest as refused for what it lacks, where no part of that name is."""
    told = {one.part for one in refused}
    lacking = (one for one in nearest if one.key not in told)
    return [Refused(one.key, one.title, one_reason(one.lacks)) for one in lacking]


def _lacks(need: Need, one: Assembly) -> tuple[Text, ...]:
    lacks: dict[Text, None] = {}
    if "reusable" in need.wants and not one.reusable:
        lacks[say("It can be used once only, and reuse was wanted.")] = None
    for joint in one.joints:
        reason = unwanted(joint.kind, need.wants)
        if reason is not None:
            lacks[reason] = None
    if need.pressure_psi is not None and one.holds_psi < need.pressure_psi:
        lacks[
            say(
                "It holds {holds} at {at}; {asked} was asked.",
                holds=rating_figure(one.holds_psi),
                at=Figure(need.hottest_f, "°F"),
                asked=load_figure(need.pressure_psi),
            )
        ] = None
    return tuple(lacks)


def _no_pipe(need: Need, reason: Text) -> Transition:
    return Transition(
        verdict="none",
        headline=say("{why} No socket takes it: find out what pipe it is first.", why=reason),
        cautions=caution("local_code"),
        working=(),
        assemblies=(),
        nearest=(),
        refused=wrong_outside(need, reason),
        break_even_count=None,
        break_even=(),
        parts_list=None,
    )


def _headline(need: Need, found: Sequence[Assembly], nearest: Sequence[Assembly]) -> Text:
    if found:
        best = found[0]
        if not best.roomy:
            return too_close(need, max(one.holds_psi for one in found))
        count = sum(part.count for part in best.parts)
        words = (
            "The best way here: {parts}, {minutes} min of work, no cement. It holds {holds}."
            if not best.wait_minutes
            else "The best way here: {parts}, {minutes} min of work, {wait} of cure."
            " It holds {holds}."
        )
        return say(
            words,
            parts=say("{n} parts", n=count) if count > 1 else say("one part"),
            minutes=Figure(best.minutes, "", 1),
            wait=Span(best.wait_minutes),
            holds=rating_figure(best.holds_psi),
        )
    return advice(need, nearest)


def _cautions(need: Need, shown: Sequence[Assembly]) -> tuple[Text, ...]:
    kinds = {joint.kind for one in shown for joint in one.joints}
    named = ["no_cement_pe", "backflow", "local_code"]
    if any(kind.startswith("solvent") for kind in kinds):
        named.insert(0, "vapour")
    if "buried" in need.wants:
        named.append("buried_services")
    return (*caution("depressurise"), *_own_cautions(need, kinds, shown), *caution(*named))


def _own_cautions(need: Need, kinds: set[str], shown: Sequence[Assembly]) -> list[Text]:
    unpriced = dict.fromkeys(part for one in shown for part in one.unpriced)
    strange = [p for p in need.prices or () if p not in fittings() and not p.startswith("sundry_")]
    names = ", ".join(str(part)[:40] for part in strange[:10])
    bore_not_told = not need.tube.half_inch and need.tube.bore_in is None
    no_thread = joint_bears("npt", "1/2", need.pipe_class, need.hottest_f) <= 0
    doubtful_in_ground = "buried" in need.wants and any(one.buried == "fair" for one in shown)
    return those(
        (need.prices_illustrative, say("Prices are illustrative and invented: put in your own.")),
        (
            need.prices is None,
            say("No prices were given: the number of parts is compared instead of cost."),
        ),
        (unpriced, say("No price was given for: {parts}.", parts=", ".join(unpriced))),
        (strange, say("These priced parts are not in our list: {parts}.", parts=names)),
        (
            need.tube.half_inch,
            say("Measure the tube before you buy: half-inch tubing comes in several sizes."),
        ),
        (
            bore_not_told and "collar" in kinds,
            say("The bore was not measured. Try the barb of the locking nut in the tube first."),
        ),
        (
            not can_cement(need),
            say(
                "{at} is outside the schedules of cement: nothing cemented is offered.",
                at=Figure(need.curing_f, "°F"),
            ),
        ),
        (
            no_thread,
            say("Above 110 °F a PVC pipe thread has no rating: nothing threaded is offered."),
        ),
        (
            need.start_metal,
            say("Never screw a metal male thread into a plain plastic hole: it splits."),
        ),
        (
            need.place == "riser",
            say("Drip from a riser needs a filter and a regulator, and the other heads capped."),
        ),
        (
            need.pressure_psi is None,
            say("No pressure was given: compare what each holds with yours, surge included."),
        ),
        (
            doubtful_in_ground,
            say("Nuts, rings and push-fits last better in a box or a gravel pocket."),
        ),
    )
