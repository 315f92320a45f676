"""Parts that were looked at and do not serve, each with its reason and the numbers."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache

from fieldkit.engine.choosing.fit import Refusal, TubeJoint, mate, pipe_od_in
from fieldkit.engine.choosing.rules import Need, clamps_on, unwanted
from fieldkit.engine.strength import load_figure, rating_figure, share_of_limit
from fieldkit.engine.words import Figure, Text, say
from fieldkit.tables.fittings import TUBE_ENDS, End, Fitting, fittings, joints


@dataclass(frozen=True, slots=True)
class Refused:
    """A part, or an assembly by its parts, and why it does not serve."""

    part: str
    name: str
    why: Text


def refusals(
    need: Need,
    holds: Mapping[End, tuple[TubeJoint, ...]],
    tube_refused: Mapping[End, Text],
    rated_psi: Mapping[TubeJoint, float],
) -> tuple[Refused, ...]:
    """Every part with a tube end or at the pipe that does not serve; the near misses first."""
    by_end = {end: _weak_or_unwanted(need, ways, rated_psi) for end, ways in holds.items()}
    at_start = _at_start(need.start, need.nominal, need.place == "inline")
    thin = not clamps_on(need.pipe_class)
    near: list[Refused] = []
    far: list[Refused] = []
    for part in fittings().values():
        misfit, reasons = None, [at_start.get(part.id)]
        tube_end = next((end for end in part.ends if end.kind in TUBE_ENDS), None)
        if tube_end is not None:
            misfit = tube_refused.get(tube_end)
            once = _single_use(tube_end) if "reusable" in need.wants else None
            reasons = [misfit, by_end.get(tube_end), *reasons, once]
        told = [reason for reason in reasons if reason is not None]
        if thin and any(end.kind in _round_the_run() for end in part.ends):
            told.append(say("It is clamped round Sch 40 and thicker: thinner pipe gives way."))
        if told:
            (near if misfit is None else far).append(Refused(part.id, part.name, one_reason(told)))
    return (*near, *far)


def one_reason(reasons: Iterable[Text]) -> Text:
    """Several sentences as one text."""
    found = list(reasons)
    if len(found) == 1:
        return found[0]
    names = [f"r{place}" for place in range(len(found))]
    template = " ".join(f"{{{name}}}" for name in names)
    return say(template, **dict(zip(names, found, strict=True)))


def _single_use(end: End) -> Text | None:
    kind = end.kind.replace("-", "_")
    reuse = joints()[kind].reuse if kind in joints() else "yes"
    if reuse == "no":
        return say("It can be used once only, and reuse was wanted.")
    if reuse == "limited":
        return say("It marks the tube, and whether it holds a second time is disputed.")
    return None


def _weak_or_unwanted(
    need: Need, ways: tuple[TubeJoint, ...], rated_psi: Mapping[TubeJoint, float]
) -> Text | None:
    told: dict[Text, None] = {}
    for way in ways:
        reason = unwanted(way.kind, need.wants)
        if reason is not None:
            told[reason] = None
        elif need.pressure_psi is not None and rated_psi[way] < need.pressure_psi:
            told[_too_weak(need, way, rated_psi[way])] = None
    return one_reason(told) if told else None


def _too_weak(need: Need, way: TubeJoint, bears_psi: float) -> Text:
    holds, asked = rating_figure(bears_psi), load_figure(need.pressure_psi or 0.0)
    words = {
        None: "It holds {holds} at {at}; {asked} was asked.",
        0: "Without a clamp it holds {holds} at {at}; {asked} was asked.",
        1: "With one clamp it holds {holds} at {at}; {asked} was asked.",
        2: "With two clamps it holds {holds} at {at}; {asked} was asked.",
    }[way.clamps if joints()[way.kind].end_x == "barb" else None]
    told = say(words, holds=holds, at=Figure(need.hottest_f, "°F"), asked=asked)
    if bears_psi < 10:
        return told
    room = rating_figure(bears_psi * share_of_limit(need.surge_psi).value)
    less = say("Fit a pressure regulator to {holds} or less, or choose another end.", holds=room)
    return one_reason((told, less))


@cache
def _at_start(kind: str, nominal: str, inline: bool) -> dict[str, Text]:
    """Why parts do not go on what is there, by part."""
    start, run = End(kind, nominal), End("run", nominal)
    found: dict[str, Text] = {}
    for part in fittings().values():
        hose = any(end.kind.startswith("hose") for end in part.ends)
        if hose and not kind.startswith("hose"):
            found[part.id] = say(
                "Hose thread has 11.5 turns an inch and no taper, pipe thread 14 and a taper. "
                "A hose joint is not for constant pressure either."
            )
        else:
            round_it = next((end for end in part.ends if end.kind in _round_the_run()), None)
            if round_it is None or kind != "pipe":
                reason = _not_on(start, part)
            else:
                misfit = mate(run if inline else start, round_it)
                reason = misfit.why if isinstance(misfit, Refusal) else None
            if reason is not None:
                found[part.id] = reason
    return found


@cache
def _round_the_run() -> frozenset[str]:
    """Kinds of end that go round a pipe that stays whole."""
    return frozenset(row.end_x for row in joints().values() if row.pipe_whole)


def _not_on(start: End, part: Fitting) -> Text | None:
    """Why a part that looks right for this start does not go on it."""
    mates = [mate(start, end) for end in part.ends if end.kind not in TUBE_ENDS]
    if start.kind != "pipe" or not mates or any(isinstance(one, str) for one in mates):
        return None
    first = part.ends[0]
    if first.kind == "spigot" and first.size == start.size and part.family == "reducer":
        return say("A spigot goes in a socket only. Over a bare pipe end use a reducing coupling.")
    if first.kind == "socket" and part.family in {"dual", "ring-coupling"}:
        return say(
            "It goes over {takes} in pipe, {takes_od} outside; this is {given} in, {given_od}. "
            "A bushing or a reducing coupling must come between.",
            takes=first.size,
            takes_od=Figure(pipe_od_in(first.size) or 0.0, "in", 3),
            given=start.size,
            given_od=Figure(pipe_od_in(start.size) or 0.0, "in", 3),
        )
    return None


def wrong_outside(need: Need, reason: Text) -> tuple[Refused, ...]:
    """All parts that would take pipe of this trade size, refused for its measured outside."""
    pipe = End("pipe", need.nominal)
    return tuple(
        Refused(part.id, part.name, reason)
        for part in fittings().values()
        if any(end.kind not in TUBE_ENDS and isinstance(mate(pipe, end), str) for end in part.ends)
    )


def no_such_size(need: Need) -> Text:
    """Why nothing starts from a size that no listed part takes."""
    outside = pipe_od_in(need.nominal)
    if outside is None:
        return say("No listed part takes {size} in.", size=need.nominal)
    return say(
        "No listed part takes {size} in pipe, {od} outside.",
        size=need.nominal,
        od=Figure(outside, "in", 3),
    )
