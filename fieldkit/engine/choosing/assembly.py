"""One assembly as a person sees it: parts, joints, what it asks and bears, what it gives up."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from fieldkit.engine.choosing.search import Made, PartialAssembly, Rules, chain
from fieldkit.engine.strength import rating_figure
from fieldkit.engine.words import Figure, Span, Text, join, say, those
from fieldkit.tables.fittings import Joint, fittings, joints

#: Weights that put the list in order, in dollars: a choice of this tool, not a finding. Hands
#: and reuse are worth a little, a wait for cement a dollar an hour, a doubtful joint a quarter.
MINUTE_USD, HAND_USD, LOST_USD, WAIT_HOUR_USD, PRONE_USD, PART_USD = 0.5, 1.5, 2.0, 1.0, 0.25, 2.0

#: Longest wait that counts in the order of the list. [h]
WAIT_COUNTS_H = 24.0


@dataclass(frozen=True, slots=True)
class PartCount:
    """A part and how many of it."""

    id: str
    name: str
    trade_name: str
    count: int


@dataclass(frozen=True, slots=True)
class MadeJoint:
    """A joint and the two things it joins: ids of parts, or pipe or tube.

    ``holds_psi`` is in the heat given; ``minutes`` are those of making it.
    """

    kind: str
    between: tuple[str, str]
    name: str
    nominal: str
    holds_psi: float
    minutes: float


@dataclass(frozen=True, slots=True)
class Assembly:
    """A way from the pipe to the tubing: ``title`` for people, ``key`` for programs.

    ``reusable``: the part that holds the tube comes off whole and goes back. ``hand_strength``:
    1 fingers, 2 a firm grip, 3 a hard push. ``holds_psi``: the weakest joint, in the heat
    given. ``roomy``: that is more than what was asked by the margin of ``hold``. ``alike`` names
    other assemblies that are the same on every count. ``lacks`` says
    what it does not do of what was wanted; it is empty for all that are offered.
    """

    key: str
    title: Text
    parts: tuple[PartCount, ...]
    joints: tuple[MadeJoint, ...]
    cost: float | None
    minutes: float
    wait_minutes: float
    reusable: bool
    hand_strength: int
    holds_psi: float
    why: Text
    part_count: int
    welds: int
    weakest: str
    proneness: int
    buried: str
    unpriced: tuple[str, ...]
    sundries: tuple[str, ...]
    likely_causes: tuple[str, ...]
    alike: tuple[tuple[str, ...], ...]
    lacks: tuple[Text, ...] = ()
    roomy: bool = True

    @property
    def pipe_whole(self) -> bool:
        """Whether the pipe stays uncut."""
        return any(joints()[joint.kind].pipe_whole for joint in self.joints)


#: How a joint does in the ground, from best to worst.
_IN_GROUND = ("yes", "fair", "no")


def build(
    group: Sequence[PartialAssembly],
    rules: Rules,
) -> Assembly:
    """An assembly from the moves that led to it; of those alike, the one with fewest parts."""
    alike = sorted(group, key=lambda end: (end.parts, _proneness(end)))
    end = alike[0]
    counts = _counts(end)
    made = [joint for step in chain(end) for joint in step.made]
    rows = [joints()[joint.kind] for joint in made]
    unpriced = _unpriced(counts, rules.prices)
    causes = dict.fromkeys(cause for row in rows for cause in row.likely_causes)
    welds = sum(row.cemented for row in rows)
    parts = tuple(
        PartCount(part.id, part.name, part.trade_name, count)
        for part, count in ((fittings()[one], count) for one, count in counts.items())
    )
    return Assembly(
        key="+".join(p.id if p.count == 1 else f"{p.id}*{p.count}" for p in parts),
        title=join((_counted(part) for part in parts), " + "),
        parts=parts,
        joints=tuple(_made_joint(joint, rules) for joint in made),
        cost=None if rules.prices is None or unpriced else end.money / 10_000,
        minutes=end.minutes / 1000,
        wait_minutes=end.wait,
        reusable=end.lost == 0,
        hand_strength=end.hand,
        holds_psi=-end.weak,
        why=say(""),
        part_count=end.parts,
        welds=welds,
        weakest=end.weakest,
        proneness=_proneness(end),
        buried=max((row.buried for row in rows), key=_IN_GROUND.index),
        unpriced=unpriced,
        sundries=_sundries(rows),
        likely_causes=tuple(causes),
        alike=tuple(tuple(_counts(other)) for other in alike[1:]),
    )


def _sundries(rows: Sequence[Joint]) -> tuple[str, ...]:
    """What is used up in making such joints."""
    used = {
        "sundry_primer_cement": any(row.cemented for row in rows),
        "sundry_tape": any(row.id == "npt" for row in rows),
    }
    return tuple(name for name, is_used in used.items() if is_used)


def _made_joint(joint: Made, rules: Rules) -> MadeJoint:
    row, held = joints()[joint.kind], joint.held
    holds = rules.rated_psi[joint.kind, joint.size] if held is None else rules.tube_rated_psi[held]
    minutes = row.minutes if held is None else held.minutes
    between = (joint.left, joint.right)
    return MadeJoint(joint.kind, between, row.name, joint.size, holds, minutes)


def _counted(part: PartCount) -> str:
    if part.count == 1:
        return part.name
    return say("{count} × {name}", count=part.count, name=part.name)


def _proneness(end: PartialAssembly) -> int:
    return sum(joints()[joint.kind].proneness for step in chain(end) for joint in step.made)


def _counts(end: PartialAssembly) -> dict[str, int]:
    counts: dict[str, int] = {}
    for step in chain(end):
        counts[step.part] = counts.get(step.part, 0) + 1
    for step in chain(end):
        for kind, count in step.clamps:
            counts[kind] = counts.get(kind, 0) + count
    return counts


def _unpriced(counts: Mapping[str, int], prices: Mapping[str, float] | None) -> tuple[str, ...]:
    if prices is None:
        return ()
    return tuple(one for one in counts if one not in prices and one != "pipe_stub")


def order_of(one: Assembly, cheapest: bool) -> tuple[float, ...]:
    """Where it stands in the list: the weights above, or cost alone where that was asked.

    What holds with no room to spare stands behind all that has room.

    Source
    ------
    fieldkit-rule. Status: common practice, no source.
    """
    money = one.part_count * PART_USD if one.cost is None else one.cost
    if cheapest:
        return (not one.roomy, one.cost is None, money, one.minutes)
    hours = min(one.wait_minutes / 60, WAIT_COUNTS_H)
    score = money + MINUTE_USD * one.minutes + HAND_USD * (one.hand_strength - 1)
    score += LOST_USD * (not one.reusable) + WAIT_HOUR_USD * hours + PRONE_USD * one.proneness
    return (not one.roomy, score, one.minutes)


def why(one: Assembly, others: Sequence[Assembly]) -> Text:
    """What speaks for it, and what it gives up against the others on the list."""
    if len(others) < 2:
        return say("It is the only one that fits all that was asked.")
    good, bad = _merits(one, others), _losses(one, others)
    if good and bad:
        return say("For it: {good}. Against it: {bad}.", good=join(good, ", "), bad=join(bad, ", "))
    if good:
        return say("For it: {good}.", good=join(good, ", "))
    return say("A middle way, best on no one count: {bad}.", bad=join(bad, ", "))


def _merits(one: Assembly, others: Sequence[Assembly]) -> list[Text]:
    costs = [other.cost for other in others if other.cost is not None]
    parts, minutes, waits, hands, holds = (
        [getattr(other, name) for other in others]
        for name in ("part_count", "minutes", "wait_minutes", "hand_strength", "holds_psi")
    )
    easy = say("easy on the hands") if one.hand_strength == 1 else say("no hard push")
    return those(
        (one.cost is not None and one.cost <= min(costs), say("cheapest")),
        (one.part_count == min(parts) < max(parts), say("fewest parts")),
        (one.minutes == min(minutes), say("quickest to make")),
        (not one.wait_minutes and max(waits) > 0, say("no cement to wait for")),
        (one.reusable and not all(o.reusable for o in others), say("comes apart and goes back")),
        (one.hand_strength < max(hands), easy),
        (one.pipe_whole and not all(o.pipe_whole for o in others), say("the pipe is not cut")),
        (
            one.holds_psi == max(holds) > min(holds),
            say("holds most, {psi}", psi=rating_figure(one.holds_psi)),
        ),
    )


def _losses(one: Assembly, others: Sequence[Assembly]) -> list[Text]:
    costs = [other.cost for other in others if other.cost is not None]
    dearer = 0.0 if one.cost is None else one.cost - min(costs)
    slower = one.minutes - min(other.minutes for other in others)
    weaker = max(other.holds_psi for other in others) - one.holds_psi
    easiest = min(other.hand_strength for other in others)
    lost = not one.reusable and any(other.reusable for other in others)
    push = say("needs a hard push") if one.hand_strength == 3 else say("needs a firm grip")
    waits = one.wait_minutes > min(other.wait_minutes for other in others)
    return those(
        (not one.roomy, say("too close to the pressure here")),
        (dearer > 0.005, say("${more} more expensive than the cheapest", more=f"{dearer:.2f}")),
        (slower > 0.05, say("{more} min longer than the quickest", more=Figure(slower, "", 1))),
        (waits, say("cement to cure for {wait}", wait=Span(one.wait_minutes))),
        (lost, say("cannot be used again")),
        (one.hand_strength > easiest, push),
        (weaker > 0.5, say("holds {less} less than the strongest", less=Figure(weaker, "psi"))),
    )
