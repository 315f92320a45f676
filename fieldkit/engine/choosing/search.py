"""Find every assembly worth having: a search over open ends, with no recipe in it.

A state is the ends that still wait for something, beginning with the plain pipe. A move puts a
part whose end mates on the first open end, or a stub of pipe in an open socket. What has been
spent so far only grows and what it bears only falls, so of two ways to the same open ends the
one that is no better on any count is dropped: nothing that can win is lost by it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import NamedTuple

from fieldkit.engine.choosing.fit import TubeJoint
from fieldkit.engine.choosing.moves import (
    STUB,
    Least,
    Way,
    joint_cost,
    least_to_finish,
    ways_between,
    ways_in,
)
from fieldkit.tables.fittings import End, fit_windows, joints


class OpenEnd(NamedTuple):
    """An end that waits for its mate, with what the water has passed on the way to it."""

    kind: str
    size: str
    valved: bool
    turned: bool
    owner: str


class Made(NamedTuple):
    """One joint made: its kind, the two things it joins, its size; how tubing is held."""

    kind: str
    left: str
    right: str
    size: str
    held: TubeJoint | None = None


class PartialAssembly(NamedTuple):
    """A part assembly: seven counts, less is better in each, and how it came about.

    ``price`` is the sum of prices, or the number of parts where prices are not known;
    ``weak`` is minus what the weakest joint bears; ``lost`` is 1 once a part that holds tubing
    could not be used again. Money and minutes are whole numbers, so sums never differ by a
    last bit: ten-thousandths of a dollar, thousandths of a minute. ``steps`` counts the parts
    without clamps; ``tube_kind`` is how the tubes are held, the same way for all of them.
    """

    price: int
    minutes: int
    wait: float
    weak: float
    lost: int
    hand: int
    unpriced: int
    parts: int
    money: int
    weakest: str
    steps: int
    open: tuple[OpenEnd, ...]
    tubes: int
    tube_kind: str
    before: PartialAssembly | None
    part: str
    made: tuple[Made, ...]
    clamps: tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True)
class Rules:
    """What this search may use, and what each use costs. ``rated_psi`` is by (kind, size)."""

    tube_ways: Mapping[End, tuple[TubeJoint, ...]]
    kinds: frozenset[str]
    rated_psi: Mapping[tuple[str, str], float]
    tube_rated_psi: Mapping[TubeJoint, float]
    wait: Mapping[str, float]
    prices: Mapping[str, float] | None
    branches: int
    valve: bool
    turn: bool
    inline: bool
    at_least_psi: float
    reusable: bool
    metal: bool
    only: frozenset[str] | None
    most_parts: int

    def allows(self, way: Way) -> bool:
        """Whether its joint may be made and its part be used."""
        return way.joint in self.kinds and (self.only is None or way.part in self.only)


def search(start: tuple[OpenEnd, ...], rules: Rules) -> list[list[PartialAssembly]]:
    """All assemblies that no other beats; those alike on every count stand together.

    Parameters
    ----------
    start : tuple of OpenEnd
        What is there: one end, or the two pipe ends of a cut.
    rules : Rules
        What may be used and what it costs.

    Returns
    -------
    list of list of PartialAssembly
        Groups, each of them alike on every count, the first found one first.

    Source
    ------
    fieldkit-rule
    """
    begin = PartialAssembly(
        0, 0, 0.0, float("-inf"), 0, 0, 0, 0, 0, "", 0, start, 0, "", None, "", (), ()
    )
    prices = None if rules.prices is None else frozenset(rules.prices.items())
    rest = least_to_finish(frozenset(rules.tube_ways), rules.kinds, prices)
    ways = {end: _worth_trying(ways_in(*end, False), rules, rest) for end in rest}
    kept: dict[tuple[object, ...], list[PartialAssembly]] = {}
    finished: list[list[PartialAssembly]] = []
    edge = [begin]
    while edge:
        grown: list[PartialAssembly] = []
        for state in edge:
            for new in _moves(state, rules, ways):
                if not new.open:
                    _finish(new, finished)
                elif _may_win(new, rest, rules, finished):
                    others = kept.setdefault(_key(new), [])
                    if not any(_beats(old, new) for old in others):
                        others[:] = [old for old in others if not _beats(new, old)]
                        others.append(new)
                        grown.append(new)
        edge = [new for new in grown if any(new is one for one in kept[_key(new)])]
    return finished


def _may_win(
    new: PartialAssembly,
    rest: Mapping[tuple[str, str], Least],
    rules: Rules,
    finished: list[list[PartialAssembly]],
) -> bool:
    """Whether it can still become an assembly that none of the finished ones beats."""
    parts, minutes, money = 0.0, 0.0, 0.0
    for end in new.open:
        least = rest.get((end.kind, end.size))
        if least is None:
            return False
        parts += least.parts
        minutes += least.minutes
        money += least.money
    if new.steps + parts > rules.most_parts:
        return False
    priced = rules.prices is not None and not new.unpriced
    price = new.price + (money if priced else parts)
    minutes += new.minutes
    return not any(
        done.price <= price
        and done.minutes <= minutes
        and done.wait <= new.wait
        and done.weak <= new.weak
        and done.lost <= new.lost
        and done.hand <= new.hand
        and done.unpriced == new.unpriced
        for (done, *_) in finished
    )


def _key(state: PartialAssembly) -> tuple[object, ...]:
    return (*(end[:4] for end in state.open), state.tubes, state.tube_kind)


def _beats(one: PartialAssembly, other: PartialAssembly) -> bool:
    """At least as good on every count. An unknown price is never compared with a known one."""
    return (
        one[0] <= other[0]
        and one[1] <= other[1]
        and one[2] <= other[2]
        and one[3] <= other[3]
        and one[4] <= other[4]
        and one[5] <= other[5]
        and one[6] == other[6]
    )


def _finish(new: PartialAssembly, finished: list[list[PartialAssembly]]) -> None:
    for group in finished:
        if group[0][:7] == new[:7]:
            group.append(new)
            return
        if _beats(group[0], new):
            return
    finished[:] = [group for group in finished if not _beats(new, group[0])]
    finished.append([new])


def _worth_trying(
    ways: tuple[Way, ...], rules: Rules, rest: Mapping[tuple[str, str], Least]
) -> tuple[Way, ...]:
    """The ways that this request allows and that can still come to a tube."""
    return tuple(
        way
        for way in ways
        if rules.allows(way)
        and (rules.valve or not way.valve)
        and len(way.onward) + len(way.tube_ends[:1]) <= rules.branches
        and all((end.kind, end.size) in rest for end in way.onward)
        and all(end in rules.tube_ways for end in way.tube_ends)
    )


def _moves(
    state: PartialAssembly, rules: Rules, ways: Mapping[tuple[str, str], tuple[Way, ...]]
) -> Iterable[PartialAssembly]:
    if state.steps >= rules.most_parts:
        return
    first, rest = state.open[0], state.open[1:]
    if rules.inline and state.before is None:
        for way in filter(rules.allows, ways_between(first.size)):
            cut = 1 if joints()[way.joint].pipe_whole else 2
            yield from _put(state, way, state.open[:cut], (), rules)
        return
    here = ways.get((first.kind, first.size), ())
    if rules.metal and state.before is None:
        banded = filter(rules.allows, ways_in(first.kind, first.size, True))
        here = tuple(way for way in banded if not way.valve)
    for way in here:
        yield from _put(state, way, (first,), rest, rules)
    listed = ("solvent_socket", first.size) in rules.rated_psi
    if first.kind == "socket" and listed and "solvent_socket" in rules.kinds:
        made = (Made("solvent_socket", first.owner, STUB, first.size),)
        stub = first._replace(kind="pipe", owner=STUB)
        yield from _add(state, rules, STUB, made, waiting=(stub, *rest))


def _put(
    state: PartialAssembly,
    way: Way,
    on: tuple[OpenEnd, ...],
    rest: tuple[OpenEnd, ...],
    rules: Rules,
) -> Iterable[PartialAssembly]:
    """Put a part on an open end, once for each way its tube ends may hold the tubing."""
    valved, turned = on[0].valved or way.valve, on[0].turned or way.turns
    tubes = _tubes_served(state, way, rest, rules)
    if tubes < 0 or (
        way.tube_ends and ((rules.valve and not valved) or (rules.turn and not turned))
    ):
        return
    made = tuple(Made(way.joint, end.owner, way.part, way.size) for end in on)
    onward = tuple(OpenEnd(e.kind, e.size, valved, turned, way.part) for e in way.onward)
    waiting = tuple(sorted((*onward, *rest)))
    if not way.tube_ends:
        yield from _add(state, rules, way.part, made, waiting=waiting)
    for ways in _tube_ways(way.tube_ends, tubes, rules):
        if state.tube_kind not in ("", ways[0][0].kind):
            continue  # mixed ends in one job get mixed up
        clamps = tuple((f"{w.clamp_kind}_{c}", w.clamps) for w, c in ways if w.clamps)
        yield from _add(
            state,
            rules,
            way.part,
            made,
            waiting=waiting,
            held=tuple(w for w, _ in ways),
            tubes=tubes,
            clamps=clamps,
            kept_whole=joints()[way.joint].reuse != "no",
        )


def _tubes_served(state: PartialAssembly, way: Way, rest: tuple[OpenEnd, ...], rules: Rules) -> int:
    """Tube ends that this part serves, or -1 where it leaves the number asked out of reach.

    Small outlets may be plugged, so a head with more of them than asked still serves.
    """
    left = rules.branches - state.tubes - len(rest) - len(way.onward)
    ends = len(way.tube_ends)
    if way.tube_ends and way.tube_ends[0].kind == "micro-barb":
        ends = min(ends, left)
        if ends < 1:
            return -1
    if ends > left or (not way.onward and not rest and ends < left):
        return -1
    return ends


def _tube_ways(
    ends: tuple[End, ...], tubes: int, rules: Rules
) -> Iterable[tuple[tuple[TubeJoint, str], ...]]:
    """Ways to hold the tubing on the ends of one part: the same on each of its ends."""
    for end in ends[:1]:
        for way in rules.tube_ways.get(end, ()):
            yield ((way, fit_windows()[end].clamp),) * tubes


def _add(
    state: PartialAssembly,
    rules: Rules,
    part: str,
    made: tuple[Made, ...],
    *,
    waiting: tuple[OpenEnd, ...],
    held: tuple[TubeJoint, ...] = (),
    tubes: int = 0,
    clamps: tuple[tuple[str, int], ...] = (),
    kept_whole: bool = True,
) -> Iterable[PartialAssembly]:
    """The state after a move; none where a hard rule stops it."""
    bought = [(part, 1), *((f"clamp_{kind}", count) for kind, count in clamps)]
    if rules.only is not None and any(item not in rules.only for item, _ in bought if item != STUB):
        return
    minutes, wait, weak, weakest, hand = _joined(state, rules, made, held)
    spoilt = held and not (kept_whole and all(way.undone_whole for way in held))
    lost = 1 if spoilt else state.lost
    if -weak < rules.at_least_psi or (rules.reusable and lost):
        return
    money, unpriced = _paid(state, bought, rules.prices)
    parts = state.parts + sum(count for _, count in bought)
    yield PartialAssembly(
        price=parts if rules.prices is None or unpriced else money,
        minutes=minutes,
        wait=wait,
        weak=weak,
        lost=lost,
        hand=hand,
        unpriced=unpriced,
        parts=parts,
        money=money,
        weakest=weakest,
        steps=state.steps + 1,
        open=waiting,
        tubes=state.tubes + tubes,
        tube_kind=held[0].kind if held else state.tube_kind,
        before=state,
        part=part,
        made=made + tuple(Made(way.kind, part, "tube", "", way) for way in held),
        clamps=tuple(bought[1:]),
    )


def _joined(
    state: PartialAssembly, rules: Rules, made: tuple[Made, ...], held: tuple[TubeJoint, ...]
) -> tuple[int, float, float, str, int]:
    """Minutes, wait, minus what the weakest bears, the weakest and strength of hand, with these."""
    _, minutes, wait, weak, _, hand, *_ = state
    weakest = state.weakest
    for one in made:
        takes, force, cures = joint_cost(one.kind)
        minutes += takes
        hand = max(hand, force)
        bears = rules.rated_psi[one.kind, one.size]
        if -bears > weak:
            weak, weakest = -bears, one.kind
        if cures:
            wait = max(wait, rules.wait[one.size])
    for way in held:
        minutes += round(way.minutes * 1000)
        hand = max(hand, joint_cost(way.kind)[1])
        bears = rules.tube_rated_psi[way]
        if -bears > weak:
            weak, weakest = -bears, way.kind
    return minutes, wait, weak, weakest, hand


def _paid(
    state: PartialAssembly, bought: list[tuple[str, int]], prices: Mapping[str, float] | None
) -> tuple[int, int]:
    """What has been spent with these, in ten-thousandths of a dollar; 1 once a price is missing."""
    money, unpriced = state.money, state.unpriced
    if prices is None:
        return money, unpriced
    for item, count in bought:
        price = prices.get(item, 0.0 if item == STUB else None)
        if price is None:
            unpriced = 1
        else:
            money += count * round(price * 10_000)
    return money, unpriced


def chain(end: PartialAssembly) -> list[PartialAssembly]:
    """The moves that led to a finished assembly, the first one first."""
    steps = []
    state: PartialAssembly | None = end
    while state is not None and state.before is not None:
        steps.append(state)
        state = state.before
    return steps[::-1]
