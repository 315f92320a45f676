"""Which listed pipe or tube is this, how sure, and what to look at next.

``pipe_posterior`` weighs the rows; this module turns the weights into an answer: who leads, what
is settled even so, who cannot be told apart by the outside, and which look would tell most.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypedDict, cast

from fieldkit.engine.identifying.model import Product, Reading, Size
from fieldkit.engine.identifying.next_measurement import (
    Rival,
    best_look,
    entropy_bits,
    gain_from_print,
    gain_from_rigid,
    gain_from_size,
)
from fieldkit.engine.identifying.posterior import Evidence, posterior
from fieldkit.engine.identifying.print_line import Clue, read_print_line
from fieldkit.engine.identifying.words import (
    NAMED_FROM,
    cautions_for,
    chance_words,
    headline_for,
    how_to_look,
    look_alike,
    notes_for,
    same_outside,
)
from fieldkit.engine.identifying.working import working_of
from fieldkit.engine.problems import OutOfRange, Problem, require
from fieldkit.engine.words import Figure, Text, say
from fieldkit.engine.working import Answer
from fieldkit.tables.other_kinds import OtherKind

#: Expanded uncertainty (k = 2) taken for an outside that comes without one: four caliper
#: readings of soft, and of hard pipe. Soft is taken when the stiffness is not known. [in]
U_OD_FLEXIBLE_IN, U_OD_RIGID_IN = 0.0042, 0.0024

#: Taken for a wall (caliper on a cut end) and a bore (drill shanks or inner jaws). Ours. [in]
U_WALL_IN, U_BORE_IN = 0.006, 0.008

#: No reading is exact: an uncertainty of 0 is taken as this. [in]
LEAST_U_IN = 0.0001

#: From here on the leader is called; a family, size or class counts as settled at the same.
SURE = 0.9

#: Rows less likely than this are not listed but counted with "unlisted".
LISTED_FROM = 0.001

#: Readings make another row possible within this many standard deviations; one of another kind,
#: for which it would be dangerous to be taken, within the larger. Ours, after gum.
POSSIBLE, POSSIBLE_OTHER_KIND = 2.0, 3.0

#: Polyethylene gas pipe of this trade size and over does not give in the hand. Ours. [in]
STIFF_FROM_IN = 1.0

#: The next look is weighed over this many rivals at most, each at least this likely.
WEIGHED, WEIGHED_FROM = 6, 0.005

Candidate = TypedDict(
    "Candidate",
    {
        "id": str,
        "name": str,
        "family": str | None,
        "standard": str | None,
        "nominal": str | None,
        "class": str | None,
        "material": str | None,
        "probability": float,
        "chance": Text,
        "od_in": float | None,
        "wall_in": float | None,
        "bore_in": float | None,
        "rating_psi": float | None,
        "cement": str | None,
        "z_od": float | None,
        "status": str | None,
    },
)


class OtherKindSaid(TypedDict):
    """What an answer says of a pipe that takes no joint; all None of one that does."""

    stops: str | None
    not_for_pressure: Text | str | None
    other_kind: str | None


class Look(TypedDict):
    """What to look at next, how, and how many bits each possible look would bring."""

    measure: str | None
    how: Text
    gains_bits: dict[str, float]


@dataclass(frozen=True, kw_only=True, slots=True)
class Identified(Answer):
    """What it may be. ``candidates`` sum to 1; "unlisted" holds the rest.

    ``stops`` is ``"gas"`` where nothing may be cut or joined. ``not_for_pressure`` says what the
    print calls it where that is not made for pressure. ``other_kind`` is the id of either, and of
    pipe that no fitting here is made for, in ``other_kinds.csv``. ``look_alikes`` have the same
    readings as the likeliest, and no more than a print line can rule them out.

    ``od_in`` and ``bore_in`` are what was measured. ``od_tool`` and ``bore_tool`` say with what,
    where the one who asked told it.
    """

    candidates: tuple[Candidate, ...]
    decided: bool
    stops: str | None
    not_for_pressure: str | None
    other_kind: str | None
    look_alikes: tuple[dict[str, object], ...]
    next_measurement: str | None
    settled: dict[str, str | None]
    next: Look
    cannot_by_od: tuple[dict[str, object], ...]
    print_clues: tuple[dict[str, object], ...]
    notes: tuple[Text, ...]
    od_in: float | None
    u_od_in: float | None
    bore_in: float | None
    not_in_table: float
    entropy_bits: float
    od_tool: str = ""
    bore_tool: str = ""


def identify(
    *,
    od_in: float | None = None,
    u_od_in: float | None = None,
    wall_in: float | None = None,
    u_wall_in: float | None = None,
    bore_in: float | None = None,
    u_bore_in: float | None = None,
    rigid: bool | None = None,
    print_line: str = "",
    region: str | None = None,
) -> Identified:
    """What a pipe or tube may be, from whatever is known of it.

    Parameters
    ----------
    od_in, wall_in, bore_in : float or None
        Outside, wall and bore at 73 °F; at least one of them, or a print line. [in]
    u_od_in, u_wall_in, u_bore_in : float or None
        Expanded uncertainty of each, k = 2; a stated default where None. [in]
    rigid : bool or None
        Whether it stays stiff in the hand.
    print_line : str
        What is printed along it.
    region : str or None
        ``"na"``, ``"oceania"`` or ``"metric"``.

    Returns
    -------
    Identified
        Candidates with their probabilities, and what to look at next.

    Raises
    ------
    Problem
        Nothing was given to go by.
    OutOfRange
        A size that cannot be, alone or beside the others.

    Source
    ------
    bayes, gum; shares and error rates are fieldkit-rule. Status: common practice, no source.

    Examples
    --------
    >>> found = identify(od_in=0.700, u_od_in=0.004, rigid=False, bore_in=0.600)
    >>> found.candidates[0]["id"], found.decided
    ('drip-0700x0600', True)
    """
    line = read_print_line(print_line) if print_line else None
    printed = line is not None and bool(line.clues or line.kind)
    if not printed and {od_in, wall_in, bore_in} == {None}:
        raise Problem(
            "od" if line is None else "print_line",
            print_line[:80] or None,
            say("There is no size here to go by."),
            say("Give the outside, the bore, or what is printed on it: such as “0.700 × 0.600”."),
        )
    _check_sizes(od_in, wall_in, bore_in)
    default = U_OD_RIGID_IN if rigid else U_OD_FLEXIBLE_IN
    given: tuple[tuple[Size, float | None, float | None, float], ...] = (
        ("od", od_in, u_od_in, default),
        ("wall", wall_in, u_wall_in, U_WALL_IN),
        ("bore", bore_in, u_bore_in, U_BORE_IN),
    )
    readings = tuple(
        Reading(size, value, _half(u, taken, f"u_{size}"))
        for size, value, u, taken in given
        if value is not None
    )
    evidence = Evidence(readings, rigid, line, region)
    assumed = frozenset(size for size, value, u, _ in given if value is not None and u is None)
    return _answer(evidence, assumed)


def _half(u_in: float | None, taken_in: float, field: str) -> float:
    if u_in is None:
        return taken_in / 2
    require(u_in, field, at_least=0.0, at_most=1.0, unit="in")
    return max(u_in, LEAST_U_IN) / 2


def _check_sizes(od_in: float | None, wall_in: float | None, bore_in: float | None) -> None:
    for value, field in ((od_in, "od"), (wall_in, "wall"), (bore_in, "bore")):
        if value is not None:
            require(value, field, above=0.0, at_most=60.0, unit="in")
    if od_in is None:
        return
    for value, field, most in ((wall_in, "wall", od_in / 2), (bore_in, "bore", od_in)):
        if value is not None and value >= most:
            raise OutOfRange(
                field,
                value,
                say(
                    "{given} does not go into an outside of {od}.",
                    given=Figure(value, "in", 3),
                    od=Figure(od_in, "in", 3),
                ),
                say("Measure both again; it must be under {most}.", most=Figure(most, "in", 3)),
            )


def _answer(evidence: Evidence, assumed: frozenset[str]) -> Identified:
    rivals = posterior(evidence)
    od, bore = evidence.of("od"), evidence.of("bore")
    listed = [one for one in rivals if one.product is not None]
    shown = [one for one in listed if one.probability >= LISTED_FROM]
    # Nine places are what an answer shows: so what is shown sums to 1, not only what was meant.
    rest = round(1 - math.fsum(round(one.probability, 9) for one in shown), 9)
    agree = _readings_agree(evidence)
    leader = next(iter(shown), None)
    kind = _kind(evidence, shown)
    alikes = _look_alikes(rivals, evidence)
    settled = _settled(shown if agree else [])
    sure = leader is not None and leader.probability >= SURE
    decided = agree and sure and not alikes and not _leaves_another(shown, evidence)
    gains = {} if decided or kind is not None else _gains(rivals, evidence)
    measure = _look(gains, print_only=bool(alikes))
    od_in, u_od_in = _read(od)
    clues = _clues(evidence)
    verdict = _verdict(
        (kind is not None and kind.effect == "gas", "gas"),
        (kind is not None, "other kind"),
        (decided, "decided"),
        (not agree, "measure again"),
        (alikes and sure, "look-alikes"),
        (leader is None or rest >= 0.5, "unlisted"),
        (settled["nominal"], "size settled"),
    )
    return Identified(
        verdict=verdict,
        headline=headline_for(verdict, leader, od, kind=kind, alikes=alikes),
        cautions=cautions_for(shown, measure, clues, kind=kind, alikes=alikes),
        working=working_of(evidence, assumed, leader),
        candidates=_candidates(shown, od, rest),
        decided=decided,
        **_as_other_kind(kind),
        look_alikes=tuple(look_alike(one) for one in alikes),
        next_measurement=measure,
        settled=settled,
        next={"measure": measure, "how": how_to_look(measure, shown, kind), "gains_bits": gains},
        cannot_by_od=same_outside(shown, od),
        print_clues=tuple(_clue(clue, leader) for clue in clues),
        notes=() if kind is not None else notes_for(shown, od, verdict),
        od_in=od_in,
        u_od_in=u_od_in,
        bore_in=_read(bore)[0],
        not_in_table=next(one.probability for one in rivals if one.product is None),
        entropy_bits=entropy_bits([one.probability for one in rivals]),
    )


def _look(gains: dict[str, float], *, print_only: bool) -> str | None:
    """The look to take next: the print, where nothing else tells look-alikes apart."""
    return "print" if print_only and "print" in gains else best_look(gains)


def _read(reading: Reading | None) -> tuple[float | None, float | None]:
    """What was read and its expanded uncertainty, where it was. [in]"""
    return (None, None) if reading is None else (reading.value_in, 2 * reading.u_in)


def _candidates(shown: Sequence[Rival], od: Reading | None, rest: float) -> tuple[Candidate, ...]:
    """The rows shown and what is not listed, the likeliest first."""
    found = [*(_candidate(one, od) for one in shown), _unlisted(max(rest, 0.0))]
    return tuple(sorted(found, key=lambda one: -one["probability"]))


def _verdict(*cases: tuple[object, str]) -> str:
    """The first verdict whose case holds; ``open`` where no row is sure enough."""
    return next((verdict for holds, verdict in cases if holds), "open")


def _as_other_kind(kind: OtherKind | None) -> OtherKindSaid:
    """What the answer says of a pipe that takes no joint."""
    if kind is None:
        return {"stops": None, "not_for_pressure": None, "other_kind": None}
    return {
        "stops": "gas" if kind.effect == "gas" else None,
        "not_for_pressure": kind.name if kind.effect == "no pressure" else None,
        "other_kind": kind.id,
    }


def _candidate(one: Rival, od: Reading | None) -> Candidate:
    assert one.product is not None  # noqa: S101  -- the caller lists rows only
    made, pipe = one.product, one.product.pipe
    z = None
    if od is not None:
        z = abs(od.value_in - made.od_mean) / math.sqrt(od.u_in**2 + made.od_var)
    return {
        "id": pipe.id,
        "name": made.name,
        "family": pipe.family,
        "standard": None if pipe.standard == "none" else pipe.standard,
        "nominal": pipe.nominal,
        "class": pipe.pipe_class or None,
        "material": pipe.material,
        "probability": round(one.probability, 9),
        "chance": chance_words(one.probability),
        "od_in": pipe.od_in,
        "wall_in": pipe.wall_in,
        "bore_in": pipe.bore_in,
        "rating_psi": pipe.rating_psi,
        "cement": pipe.cement,
        "z_od": z,
        "status": pipe.status,
    }


def _unlisted(probability: float) -> Candidate:
    told = {
        "id": "unlisted",
        "name": say("something not listed here"),
        "probability": probability,
        "chance": chance_words(probability),
    }
    return cast("Candidate", dict.fromkeys(Candidate.__annotations__) | told)


def _settled(shown: Sequence[Rival]) -> dict[str, str | None]:
    """Family, then size within it, then class within that: each named once it is sure."""
    names = [
        (one.product.pipe.family, one.product.pipe.nominal, one.product.pipe.pipe_class)
        for one in shown
        if one.product is not None
    ]
    found: dict[str, str | None] = {"family": None, "nominal": None, "class": None}
    for depth, part in enumerate(found, start=1):
        masses: dict[tuple[str, ...], float] = {}
        for name, one in zip(names, shown, strict=True):
            masses[name[:depth]] = masses.get(name[:depth], 0.0) + one.probability
        if not masses:
            break
        best = max(masses, key=lambda name: masses[name])
        if masses[best] < SURE:
            break
        found[part] = best[-1] or None
    return found


def _gains(rivals: Sequence[Rival], evidence: Evidence) -> dict[str, float]:
    rivals = [one for one in rivals[:WEIGHED] if one.probability >= WEIGHED_FROM]
    total = math.fsum(one.probability for one in rivals)
    scaled = [Rival(one.product, one.belief, one.probability / total) for one in rivals]
    gains = {}
    if evidence.of("wall") is None:
        gains["wall"] = gain_from_size(scaled, "wall", U_WALL_IN / 2)
    if evidence.of("bore") is None:
        gains["bore"] = gain_from_size(scaled, "bore", U_BORE_IN / 2)
    if evidence.line is None:
        gains["print"] = gain_from_print(scaled)
    if evidence.rigid is None:
        gains["rigid"] = gain_from_rigid(scaled)
    return gains


def _kind(evidence: Evidence, shown: Sequence[Rival]) -> OtherKind | None:
    """The kind that nothing may be joined to: what the print says, else what the leader is."""
    if evidence.line is not None and evidence.line.kind is not None:
        return evidence.line.kind if evidence.line.kind.takes_no_joint else None
    leads = shown[0].product.kind if shown and shown[0].product is not None else None
    if leads is None:
        return None
    kinds = ((one.product.kind, one.probability) for one in shown if one.product is not None)
    same = math.fsum(p for kind, p in kinds if kind is not None and kind.effect == leads.effect)
    return leads if same >= SURE else None


def _clues(evidence: Evidence) -> tuple[Clue, ...]:
    return evidence.line.clues if evidence.line is not None else ()


def _leaves_another(shown: Sequence[Rival], evidence: Evidence) -> bool:
    """Whether what was read leaves a second row possible, or the print speaks against the first.

    How common each is would then decide alone, and that is a judgement: take one more look.
    """
    leader = shown[0].product if shown else None
    if leader is None:
        return True
    if any(clue.fits(leader.pipe) is False for clue in _clues(evidence)):
        return True
    return any(
        one.probability >= NAMED_FROM
        and one.product is not None
        and _fits_too(one.product, leader, evidence, POSSIBLE)
        for one in shown[1:]
    )


def _look_alikes(rivals: Sequence[Rival], evidence: Evidence) -> tuple[Product, ...]:
    """Rows of another kind or cement that all readings fit as they fit the likeliest.

    However rare they are: how rare is a judgement, and taking gas pipe for water pipe is not
    made safe by it.
    """
    leader = next((one.product for one in rivals if one.product is not None), None)
    if leader is None or leader.kind is not None or not evidence.readings:
        return ()
    found = {
        one.product.pipe.family_name: one.product
        for one in rivals
        if one.product is not None
        and leader.may_be_taken_for(one.product)
        and _fits_too(one.product, leader, evidence, POSSIBLE_OTHER_KIND)
    }
    return tuple(found.values())


def _fits_too(other: Product, leader: Product, evidence: Evidence, reach: float) -> bool:
    """Whether neither readings nor hand nor print tell ``other`` from the likeliest."""
    stiff_gas = other.is_gas and other.pipe.nominal_in >= STIFF_FROM_IN
    if evidence.rigid is not None and other.pipe.rigid is not evidence.rigid and not stiff_gas:
        return False
    for clue in _clues(evidence):
        if clue.fits(other.pipe) is False and clue.fits(leader.pipe):
            return False
    return other.reads_as(evidence.readings, reach)


def _readings_agree(evidence: Evidence) -> bool:
    """Outside less two walls must leave the bore, within three standard deviations."""
    od, wall, bore = (evidence.of(size) for size in ("od", "wall", "bore"))
    if od is None or wall is None or bore is None:
        return True
    miss = od.value_in - 2 * wall.value_in - bore.value_in
    return abs(miss) <= 3 * math.sqrt(od.u_in**2 + 4 * wall.u_in**2 + bore.u_in**2)


def _clue(clue: Clue, leader: Rival | None) -> dict[str, object]:
    fits = clue.fits(leader.product.pipe) if leader and leader.product else None
    return {"kind": clue.kind, "says": clue.says, "fits_likeliest": fits}
