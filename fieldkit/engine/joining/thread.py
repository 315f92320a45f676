"""Screwed joints: do the threads match, how far to turn them, and what seals them."""

from __future__ import annotations

import math
from dataclasses import dataclass

from fieldkit.engine.cautions import caution
from fieldkit.engine.joining.thread_match import ADAPTERS, does_not_match, thread_of
from fieldkit.engine.joining.weld_parts import Do
from fieldkit.engine.problems import OutOfRange, require
from fieldkit.engine.words import Figure, Text, say
from fieldkit.engine.working import Answer, Line, precise, worked
from fieldkit.tables.materials import materials
from fieldkit.tables.threads import Pairing, Sealant, Thread, pairings, sealants

#: A taper pipe thread grows by 1 in 16 on diameter. Source: asme-b1-20-1.
TAPER = 1 / 16

#: Long-term strength of PVC is twice its design stress (service factor one half).
STRENGTH_PER_DESIGN = 2.0

#: Washer joints are snugged by hand: up to a quarter turn more.
WASHER_TURNS_MAX = 0.25

DIRECTION = say("With the thread: clockwise as you face the male end.")
WASHER_DIRECTION = say("No tape: the washer seals.")

#: Females that nothing keeps from splitting.
SPLITS = frozenset({"plastic", "plastic valve"})


@dataclass(frozen=True, kw_only=True, slots=True)
class MadeUp(Answer):
    """A screwed joint. Turns count from hand tight.

    ``hoop_stress_psi`` is the upper bound: all spreading given to the female. ``wraps`` are of
    ordinary tape, half over the last; ``wraps_thin`` of thin tape, least and most.
    """

    size: str
    male: str
    female: str
    male_thread: str
    female_thread: str
    turns_min: float
    turns_usual: float
    turns_max: float
    turns_past_hand_tight: float
    wraps: int
    wraps_thin: tuple[int, int]
    direction: Text
    sealant: str | None
    sealant_advice: Text
    hoop_stress_psi: float
    hoop_stress_shared_psi: float
    design_stress_psi: float
    strength_psi: float
    crack_risk: bool
    hand_turns: float | None
    adapter: Text | None
    steps: tuple[Do, ...]


@dataclass(frozen=True, slots=True)
class Screwed:
    """What is screwed into what. None was not told: it is planned, not judged."""

    size: str
    male: str = "plastic"
    female: str = "plastic"
    male_thread: str = "npt"
    female_thread: str = "npt"
    turns: float | None = None
    sealant: str | None = None


def thread_hoop_stress(turns: float, tpi: float, pitch_dia_in: float, modulus_psi: float) -> float:
    """Hoop stress in a female taper thread screwed so far past hand tight.

    σ = E (p / 16) n / D: each turn drives the male in by one pitch p, so it spreads the female
    by p/16 on diameter. All of it is given to the female, which bounds the stress from above.
    D is the pitch diameter at the hand-tight plane, the female's mouth, where splits start.

    Parameters
    ----------
    turns : float
        Turns n past hand tight, 0 or more. [turns]
    tpi : float
        Threads per inch, above 0. [1/in]
    pitch_dia_in : float
        Pitch diameter D of the female, above 0. [in]
    modulus_psi : float
        Modulus E of its material, above 0. [psi]

    Returns
    -------
    float
        Stress of the first hours; it eases with time. [psi]

    Raises
    ------
    OutOfRange
        A value is outside the range given above.

    Source
    ------
    asme-b1-20-1 for the taper; statics for strain of a ring. Status: computed.

    Examples
    --------
    >>> round(thread_hoop_stress(2.0, 14.0, 0.77843, 400000.0))
    4588
    """
    require(turns, "turns_past_hand_tight", at_least=0.0, unit="turns", places=2)
    require(tpi, "tpi", above=0.0, unit="per inch")
    require(pitch_dia_in, "pitch_dia_in", above=0.0, unit="in")
    require(modulus_psi, "modulus_psi", above=0.0, unit="psi")
    return modulus_psi * (TAPER / tpi) * turns / pitch_dia_in


def turns_before_it_splits(tpi: float, pitch_dia_in: float) -> float:
    """Most turns past hand tight that keep a plastic female within PVC's long-term strength.

    The turns at which ``thread_hoop_stress`` reaches twice the design stress, rounded down to a
    quarter turn. Small sizes allow less than the two turns that the trade prints for all.

    Parameters
    ----------
    tpi : float
        Threads per inch, above 0. [1/in]
    pitch_dia_in : float
        Pitch diameter of the female at the hand-tight plane, above 0. [in]

    Returns
    -------
    float
        Quarter turns. [turns]

    Source
    ------
    astm-d1785 for the stress (PVC 1120), asme-b1-20-1 for the taper. Status: computed.

    Examples
    --------
    >>> turns_before_it_splits(14.0, 0.77843), turns_before_it_splits(11.5, 2.29627)
    (1.5, 4.0)
    """
    pvc = materials()["pvc"]
    one = thread_hoop_stress(1.0, tpi, pitch_dia_in, pvc.modulus_psi or 0.0)
    return math.floor(4 * STRENGTH_PER_DESIGN * (pvc.design_stress_psi or 0.0) / one) / 4


def turns_allowed(pair: Pairing, row: Thread) -> tuple[float, float]:
    """Least and most turns past hand tight of a taper thread.

    The most is the wrench turns of the standard where the pairing names none, and in plastic
    that splits never past ``turns_before_it_splits``.

    Parameters
    ----------
    pair : Pairing
        Materials of male and female.
    row : Thread
        A taper thread.

    Returns
    -------
    tuple of float
        Least and most, the least never over the most. [turns]

    Source
    ------
    astm-f1498, asme-b1-20-1; astm-d1785 for the stress. Status: secondary.

    Examples
    --------
    >>> from fieldkit.tables.threads import threads
    >>> turns_allowed(pairings()["plastic", "plastic"], threads()["npt-1/2"])
    (1.0, 1.5)
    """
    assert row.pitch_dia_hand_in is not None and row.wrench_turns is not None  # noqa: S101, PT018
    most = row.wrench_turns if pair.turns_max is None else pair.turns_max
    if pair.female in SPLITS:
        most = min(most, turns_before_it_splits(row.tpi, row.pitch_dia_hand_in))
    return min(pair.turns_min, most), most


def thread_wraps(major_od_in: float) -> int:
    """Wraps of ordinary thread-seal tape, each half over the last.

    Parameters
    ----------
    major_od_in : float
        Outside diameter of the male thread, above 0; 2 in trade size is 2.375. [in]

    Returns
    -------
    int
        1 under the 2 in size, 2 from it on. [1]

    Raises
    ------
    OutOfRange
        Not above 0.

    Source
    ------
    thread-articles: 2.5 to 3.5 mil tape. They disagree, from 1 to 4; 2 to 3 thin ones are common.

    Examples
    --------
    >>> thread_wraps(0.840), thread_wraps(2.375)
    (1, 2)
    """
    require(major_od_in, "major_od_in", above=0.0, unit="in")
    return 1 if major_od_in < 2.375 else 2


def thread(joint: Screwed) -> MadeUp:
    """Judge a screwed joint, or plan one where turns or sealant are not told.

    Parameters
    ----------
    joint : Screwed
        Size, materials, threads, turns past hand tight (0 to 10) and sealant. [turns]

    Returns
    -------
    MadeUp
        Verdict ``ok``, ``too_tight``, ``too_loose``, ``wrong_pair``, ``wrong_sealant`` or
        ``does_not_match``, with turns, wraps and stress. [turns, psi]

    Raises
    ------
    OutOfRange
        Size, material, thread or sealant is not in the tables, or turns lie outside 0 to 10.

    Source
    ------
    asme-b1-20-1, astm-f1498, thread-articles, asme-b1-20-7.

    Examples
    --------
    >>> thread(Screwed("1/2", turns=1.5, sealant="tape")).verdict
    'ok'
    >>> thread(Screwed("1/2", turns=3.0, sealant="tape")).verdict
    'too_tight'
    """
    if joint.turns is not None:
        require(
            joint.turns, "turns_past_hand_tight", at_least=0.0, at_most=10.0, unit="turns", places=2
        )
    seal = _sealant(joint.sealant)
    male = thread_of(joint.male_thread, joint.size, "male")
    female = thread_of(joint.female_thread, joint.size, "female")
    mismatch = does_not_match(male, female)
    if mismatch is not None:
        return _mismatched(joint, mismatch, male, female)
    pair = _pairing(joint)
    if female.seals_by == "washer":
        return _on_a_washer(joint, seal)
    return _on_a_taper(joint, pair, seal, female)


def _sealant(given: str | None) -> Sealant | None:
    if given is None:
        return None
    if given not in sealants():
        raise OutOfRange(
            "sealant",
            given,
            say("This sealant is not listed."),
            say("Choose one of: {names}.", names=", ".join(sealants())),
        )
    return sealants()[given]


def _pairing(joint: Screwed) -> Pairing:
    known = {pair for both in pairings() for pair in both}
    for field, given in (("male", joint.male), ("female", joint.female)):
        if given not in known:
            raise OutOfRange(
                field,
                given,
                say("This material is not listed."),
                say("Choose one of: {names}.", names=", ".join(sorted(known))),
            )
    pair = pairings().get((joint.male, joint.female))
    if pair is None:
        raise OutOfRange(
            "male",
            joint.male,
            say("No pairing of {m} into {f} is listed.", m=joint.male, f=joint.female),
            say("The male is plastic or metal."),
        )
    return pair


# ── Threads that do not belong together ──────────────────────────────────────────────────────


def _mismatched(joint: Screwed, why: Text, male: Thread, female: Thread) -> MadeUp:
    apart_in = abs(1 / male.tpi - 1 / female.tpi)
    lines = [
        Line(
            "pitch apart",
            "|1 / male − 1 / female|; adding up at each turn",
            {"male": precise(male.tpi, "per inch"), "female": precise(female.tpi, "per inch")},
            apart_in,
            "in",
            male.source,
            "computed",
        ),
        *(
            Line(
                say("{side} outside diameter", side=side),
                "table: threads",
                {"thread": row.id},
                row.major_od_in,
                "in",
                row.source,
                row.status,
            )
            for side, row in (("male", male), ("female", female))
            if row.major_od_in is not None
        ),
    ]
    return _made_up(
        joint,
        verdict="does_not_match",
        headline=why,
        cautions=(say("Tape cannot repair it: undo it before water goes on."), *_care()),
        working=tuple(lines),
        turns=(0.0, 0.0, 0.0),
        adapter=ADAPTERS[frozenset((male.form, female.form))],
        advice=say("No sealant makes these two hold."),
    )


# ── Washer joints ────────────────────────────────────────────────────────────────────────────


def _on_a_washer(joint: Screwed, seal: Sealant | None) -> MadeUp:
    bad_seal = seal is not None and seal.on_washer == "no"
    too_tight = joint.turns is not None and joint.turns > WASHER_TURNS_MAX
    verdict = "too_tight" if too_tight else "wrong_sealant" if bad_seal else "ok"
    advice = say(seal.why_washer) if seal is not None else say("A whole, clean washer. No tape.")
    headline = {
        "too_tight": say("Too tight for a washer: hand tight and a quarter turn at most."),
        "wrong_sealant": advice,
        "ok": say("Hand tight on a whole washer, a quarter turn more at most."),
    }[verdict]
    rule = worked("turns_of_hose_thread", WASHER_TURNS_MAX)
    return _made_up(
        joint,
        verdict=verdict,
        headline=headline,
        cautions=_care(),
        working=(rule,),
        turns=(0.0, 0.0, WASHER_TURNS_MAX),
        advice=advice,
    )


# ── Taper threads ────────────────────────────────────────────────────────────────────────────


def _on_a_taper(joint: Screwed, pair: Pairing, seal: Sealant | None, row: Thread) -> MadeUp:
    assert row.pitch_dia_hand_in is not None and row.major_od_in is not None  # noqa: S101, PT018
    assert row.hand_length_in is not None  # noqa: S101
    _, most = turns_allowed(pair, row)
    usual = min(pair.turns_usual, most)
    turns = usual if joint.turns is None else joint.turns
    pvc = materials()["pvc"]
    design_psi = pvc.design_stress_psi or 0.0
    modulus_psi = pvc.modulus_psi or 0.0
    stress_psi = (
        0.0
        if joint.female not in SPLITS
        else thread_hoop_stress(turns, row.tpi, row.pitch_dia_hand_in, modulus_psi)
    )
    verdict = _taper_verdict(joint, pair, seal, most)
    lines = [
        Line(
            "turns past hand tight",
            say("table: {male} into {female}", male=joint.male, female=joint.female)
            if joint.turns is None
            else "given",
            {"least": pair.turns_min, "usual": usual, "most": most},
            turns,
            "turns",
            pair.source,
            pair.status,
        ),
        worked(
            "hand_tight_turns_of_metal",
            row.hand_length_in * row.tpi,
            rests=row,
            L1=precise(row.hand_length_in, "in"),
            n=precise(row.tpi, "per inch"),
        ),
        Line(
            "hoop stress",
            "E (p / 16) n / D; all spread given to the female",
            {
                "E": precise(modulus_psi, "psi"),
                "p": precise(1 / row.tpi, "in"),
                "n": precise(turns, "turns"),
                "D": precise(row.pitch_dia_hand_in, "in"),
            },
            stress_psi,
            "psi",
            row.source,
            "computed",
        )
        if joint.female in SPLITS
        else worked("hoop_stress_in_metal", 0.0),
        worked("design_stress_of_pvc", design_psi, rests=pvc),
        worked(
            "long_term_strength_of_pvc",
            STRENGTH_PER_DESIGN * design_psi,
            {"design stress": precise(design_psi, "psi")},
            rests=pvc,
        ),
        worked("wraps", float(thread_wraps(row.major_od_in)), size=joint.size),
    ]
    if joint.turns is None:
        lines.insert(
            0,
            worked("turns_usual", usual, rests=pair),
        )
    return _made_up(
        joint,
        verdict=verdict,
        headline=_taper_headline(verdict, pair, seal, joint, most),
        cautions=_taper_cautions(joint, pair, seal, stress_psi, design_psi),
        working=tuple(lines),
        turns=(pair.turns_min, usual, most),
        advice=_taper_advice(seal),
        wraps=thread_wraps(row.major_od_in),
        stress_psi=stress_psi,
        hand_turns=row.hand_length_in * row.tpi,
    )


def _taper_verdict(joint: Screwed, pair: Pairing, seal: Sealant | None, most: float) -> str:
    """The gravest first: what may split, then what never seals, then what only drips."""
    if joint.turns is not None and joint.turns > most:
        return "too_tight"
    if pair.verdict == "avoid":
        return "wrong_pair"
    if seal is not None and seal.on_taper == "no" and not _oil_on_metal(joint, seal):
        return "wrong_sealant"
    if joint.turns is not None and joint.turns < pair.turns_min:
        return "too_loose"
    return "ok"


def _oil_on_metal(joint: Screwed, seal: Sealant) -> bool:
    """Oil paste harms plastic only."""
    return seal.id == "oil paste" and joint.male == joint.female == "metal"


def _taper_headline(
    verdict: str, pair: Pairing, seal: Sealant | None, joint: Screwed, most: float
) -> Text:
    if verdict == "too_tight":
        return say(
            "Too tight: {n} past hand tight, and {most} is the stop. Look for a crack.",
            n=_turns(joint.turns or 0.0, "turns"),
            most=_turns(most),
        )
    if verdict == "wrong_pair":
        return say(pair.why)
    if verdict == "wrong_sealant" and seal is not None:
        return say(seal.why_taper)
    if verdict == "too_loose":
        return say(
            "Too loose: turn it on to at least {least} past hand tight.",
            least=_turns(pair.turns_min, "turns"),
        )
    return say(
        "Hand tight, then {least} to {most}, no more.",
        least=_turns(pair.turns_min),
        most=_turns(most, "turns"),
    )


def _turns(count: float, unit: str = "") -> Figure:
    """A count of turns without zeros that say nothing.

    Examples
    --------
    >>> str(_turns(2.0, "turns")), str(_turns(1.5)), str(_turns(1.75))
    ('2 turns', '1.5', '1.75')
    """
    return Figure(count, unit, next(n for n in (0, 1, 2) if n == 2 or round(count, n) == count))


def _taper_advice(seal: Sealant | None) -> Text:
    if seal is None or seal.on_taper != "yes":
        return say("Thread-seal tape, or non-hardening paste marked safe for PVC. Not both.")
    if seal.id == "paste":
        return say("Only if the label says it is safe for PVC. Keep it away from emitters.")
    return say("One pass of ordinary tape, half over the last; two or three of thin tape.")


def _taper_cautions(
    joint: Screwed, pair: Pairing, seal: Sealant | None, stress_psi: float, design_psi: float
) -> tuple[Text, ...]:
    found: list[Text] = []
    if stress_psi > STRENGTH_PER_DESIGN * design_psi:
        found.append(
            say(
                "Up to {s} in the female: above PVC’s long-term {limit}. It may split days later.",
                s=Figure(stress_psi, "psi"),
                limit=Figure(STRENGTH_PER_DESIGN * design_psi, "psi"),
            )
        )
    elif stress_psi > design_psi:
        found.append(
            say(
                "Up to {s} in the female: above the {limit} that PVC pipe is designed for.",
                s=Figure(stress_psi, "psi"),
                limit=Figure(design_psi, "psi"),
            )
        )
    if pair.verdict == "avoid":
        found.append(say(pair.why))
        found.append(say("Turn it about: plastic male into metal, or a banded female adapter."))
    if seal is not None and seal.on_taper != "yes" and not _oil_on_metal(joint, seal):
        found.append(say(seal.why_taper))
    if joint.female != "metal":
        found += caution("two_turns")
        found.append(say("Use a strap wrench, never a pipe wrench. Buried threads are too tight."))
        found.append(say("Thick (Sch 80) females split just as easily."))
    if not joint.male == joint.female == "metal":
        found.append(say("Plastic with threads: half the pipe’s rating, and not above 110 °F."))
    return (*found, *_care(), *caution("grease", "no_cement_pe"))


def _care() -> tuple[Text, ...]:
    return caution("depressurise", "stand_clear", "eyes", "local_code")


def _made_up(
    joint: Screwed,
    *,
    verdict: str,
    headline: Text,
    cautions: tuple[Text, ...],
    working: tuple[Line, ...],
    turns: tuple[float, float, float],
    advice: Text,
    adapter: Text | None = None,
    wraps: int = 0,
    stress_psi: float = 0.0,
    hand_turns: float | None = None,
) -> MadeUp:
    least, usual, most = turns
    design_psi = materials()["pvc"].design_stress_psi or 0.0
    return MadeUp(
        verdict=verdict,
        headline=headline,
        cautions=cautions,
        working=working,
        size=joint.size,
        male=joint.male,
        female=joint.female,
        male_thread=joint.male_thread,
        female_thread=joint.female_thread,
        turns_min=least,
        turns_usual=usual,
        turns_max=most,
        turns_past_hand_tight=usual if joint.turns is None else joint.turns,
        wraps=wraps,
        wraps_thin=(2, 3) if wraps else (0, 0),
        direction=DIRECTION if wraps else WASHER_DIRECTION,
        sealant=joint.sealant,
        sealant_advice=advice,
        hoop_stress_psi=stress_psi,
        hoop_stress_shared_psi=stress_psi / 2,
        design_stress_psi=design_psi,
        strength_psi=STRENGTH_PER_DESIGN * design_psi,
        crack_risk=stress_psi > STRENGTH_PER_DESIGN * design_psi,
        hand_turns=hand_turns,
        adapter=adapter,
        steps=_steps(verdict, wraps, usual, most),
    )


def _steps(verdict: str, wraps: int, usual: float, most: float) -> tuple[Do, ...]:
    if verdict == "does_not_match":
        return (Do(say("Undo it and fit the adapter."), None, say("These threads never seal.")),)
    start = Do(
        say("Start by hand: turn backwards until it drops, then forwards."),
        None,
        say("That finds the start of the thread and avoids crossing it."),
    )
    if not wraps:
        return (
            Do(say("Seat a whole, clean washer."), None, say("The washer alone seals.")),
            start,
            Do(say("Hand tight, a quarter turn more at most."), None, say("More cuts the washer.")),
        )
    return (
        Do(
            say("Clean both threads and look for cracks."),
            None,
            say("Old tape and grit hold the threads apart."),
        ),
        Do(
            say("Wrap tape clockwise as you face the male end, from its second thread."),
            None,
            say("So it does not unwind, and no scraps reach the emitters."),
        ),
        start,
        Do(say("Turn it hand tight and mark both parts."), None, say("Turns count from here.")),
        Do(
            say(
                "Strap wrench: {usual} past the mark, never past {most}.",
                usual=_turns(usual, "turns"),
                most=_turns(most),
            ),
            None,
            say("Each turn wedges the female wider."),
        ),
        Do(say("Do not turn it back to line it up."), None, say("Turning back breaks the seal.")),
    )
