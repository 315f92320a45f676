"""What an identification says in words: headline, notes, cautions and how to look further."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Sequence

from fieldkit.engine.cautions import caution
from fieldkit.engine.identifying.model import Product, Reading
from fieldkit.engine.identifying.next_measurement import Rival, sixty_fourths, splitting_drill
from fieldkit.engine.identifying.print_line import Clue
from fieldkit.engine.words import Figure, Text, join, say
from fieldkit.tables.other_kinds import OtherKind
from fieldkit.tables.pipes import Pipe, pipes

#: A rival this likely is worth naming.
NAMED_FROM = 0.01

#: Chances as a person says them, each used from its lower edge up.
_CHANCES: tuple[tuple[float, Text], ...] = (
    (0.99, say("all but certain")),
    (0.93, say("about 19 in 20")),
    (0.85, say("about 9 in 10")),
    (0.77, say("about 4 in 5")),
    (0.71, say("about 3 in 4")),
    (0.59, say("about 2 in 3")),
    (0.42, say("about 1 in 2")),
    (0.29, say("about 1 in 3")),
    (0.22, say("about 1 in 4")),
    (0.14, say("about 1 in 5")),
    (0.075, say("about 1 in 10")),
    (0.035, say("about 1 in 20")),
    (0.01, say("about 1 in 50")),
)


_EDGES = tuple(edge for edge, _ in reversed(_CHANCES))
_WORDS = (say("less than 1 in 100"), *(words for _, words in reversed(_CHANCES)))


def chance_words(probability: float) -> Text:
    """A probability as a person says it.

    Examples
    --------
    >>> chance_words(0.74), chance_words(0.004)
    ('about 3 in 4', 'less than 1 in 100')
    """
    return _WORDS[bisect_right(_EDGES, probability)]


def headline_for(
    verdict: str,
    leader: Rival | None,
    od: Reading | None,
    *,
    kind: OtherKind | None = None,
    alikes: Sequence[Product] = (),
) -> Text:
    """One plain sentence for the verdict."""
    if kind is not None:
        return {
            "gas": say("This is {kind}. Do not cut it and join nothing to it.", kind=kind.name),
            "no pressure": say(
                "This is {kind}: not made to hold pressure. Join no water line to it.",
                kind=kind.name,
            ),
        }.get(
            kind.effect,
            say("This is {kind}. No cement and no fitting here is made for it.", kind=kind.name),
        )
    if verdict == "measure again":
        return say("Outside, wall and bore do not add up. Measure them again.")
    if leader is None or leader.product is None:
        if od is None:
            return say("Nothing listed here fits what was given.")
        return say(
            "Nothing listed here is near {od} outside. Nearest is {name}.",
            od=Figure(od.value_in, "in", 3),
            name=nearest(od.value_in).name,
        )
    pipe, chance = leader.product.pipe, chance_words(leader.probability)
    if verdict == "decided":
        return say("This is {name}: {chance}.", name=leader.product.name, chance=chance)
    if verdict == "look-alikes":
        return say(
            "This has the sizes of {name}. Only its print tells it from {others}.",
            name=leader.product.name,
            others=_others(alikes),
        )
    if verdict == "unlisted":
        return say(
            "It is likely something not listed here. Nearest: {name}, {chance}.",
            name=pipe.name,
            chance=chance,
        )
    if verdict == "size settled":
        return say(
            "This is {size} {kind}. Which one is open: {name} is {chance}.",
            size=_size(pipe),
            kind=pipe.family_name,
            name=pipe.pipe_class or _sizes(pipe),
            chance=chance,
        )
    return say("More than one fits. Likeliest: {name}, {chance}.", name=pipe.name, chance=chance)


def nearest(od_in: float) -> Pipe:
    """The row whose outside is nearest."""
    return min(pipes().values(), key=lambda pipe: abs(pipe.od_in - od_in))


def _size(pipe: Pipe) -> str:
    return pipe.nominal if pipe.nominal.endswith("mm") else f"{pipe.nominal} in."


def _sizes(pipe: Pipe) -> str:
    if pipe.bore_in is None:
        return f"{pipe.od_in:.3f} outside"
    return f"{pipe.od_in:.3f} × {pipe.bore_in:.3f}"


def same_outside(shown: Sequence[Rival], od: Reading | None) -> tuple[dict[str, object], ...]:
    """Rivals of the likeliest that no outside diameter, measured this well, can tell from it.

    Two rows are told apart when their middles lie two standard deviations of each apart.

    Source
    ------
    fieldkit-rule, after gum: z of 2 or less is possible. Status: computed.
    """
    found: list[dict[str, object]] = []
    if od is None or not shown or shown[0].product is None:
        return ()
    leader = shown[0].product
    own = math.sqrt(od.u_in**2 + leader.od_var)
    for one in shown[1:]:
        if one.product is None or one.probability < NAMED_FROM:
            continue
        rival = one.product
        gap = abs(rival.od_mean - leader.od_mean)
        needed = 2 * (own + math.sqrt(od.u_in**2 + rival.od_var))
        if gap >= needed:
            continue
        if gap < 0.0005:
            why = say("{a} and {b} have the same outside.", a=leader.name, b=rival.name)
        else:
            why = say(
                "Outside alone cannot tell {a} from {b}: {gap} apart, {needed} needed.",
                a=leader.name,
                b=rival.name,
                gap=Figure(gap, "in", 3),
                needed=Figure(needed, "in", 3),
            )
        found.append({"id": rival.pipe.id, "gap_in": gap, "needed_in": needed, "why": why})
    return tuple(found)


def look_alike(product: Product) -> dict[str, object]:
    """A row that only the print can tell from the likeliest, and why that matters."""
    pipe, kind = product.pipe, product.kind
    if kind is None:
        why = say("{name} takes another cement.", name=product.name)
    elif kind.effect == "gas":
        why = say("{name} must not be cut.", name=product.name)
    elif kind.effect == "no pressure":
        why = say("{name} is not made to hold pressure.", name=product.name)
    else:
        why = say("No fitting here is made for {name}.", name=product.name)
    return {
        "id": pipe.id,
        "family": pipe.family,
        "name": product.name,
        "kind": kind.id if kind is not None else pipe.material,
        "stops": "gas" if product.is_gas else None,
        "why": why,
    }


def _others(alikes: Sequence[Product]) -> Text:
    return join(list(dict.fromkeys(one.pipe.family_name for one in alikes))[:3], ", ")


def how_to_look(measure: str | None, shown: Sequence[Rival], kind: OtherKind | None = None) -> Text:
    """How to take the look that is proposed, with what a person has at hand."""
    if kind is not None:
        return say("Measure nothing more: leave it as it is.")
    if measure == "rigid":
        return say("Squeeze and bend it by hand: does it give, or stay hard?")
    if measure == "print":
        return say("Wipe it and read the print along it: sizes, class, and a standard’s number.")
    if measure == "wall":
        return say("Cut a clean square end and measure the wall at four places; use the mean.")
    if measure == "bore":
        return _bore(shown)
    return say("Nothing more is needed to tell.") if shown else say("Measure it again.")


def _bore(shown: Sequence[Rival]) -> Text:
    """A drill shank between the bores of the likeliest and the first rival it can split off."""
    bores = [one.product.pipe.bore_in for one in shown if one.product is not None]
    first = bores[0] if bores else None
    for other in bores[1:]:
        if first is None or other is None:
            continue
        small, large = sorted((first, other))
        drill = splitting_drill(small, large)
        if drill is not None:
            return say(
                "Try the smooth end of a {drill} in drill, no force: it enters a bore of {large}, "
                "not {small}.",
                drill=sixty_fourths(drill),
                large=Figure(large, "", 3),
                small=Figure(small, "", 3),
            )
    return say("Cut a clean square end and measure the bore both ways; use the mean.")


def notes_for(shown: Sequence[Rival], od: Reading | None, verdict: str) -> tuple[Text, ...]:
    """What else is worth knowing: weak rows, and threads that look like pipe."""
    notes: list[Text] = []
    leader = shown[0].product.pipe if shown and shown[0].product is not None else None
    if leader is not None and verdict != "unlisted":
        if leader.status in {"from memory", "common practice, no source"}:
            notes.append(
                say("The sizes of {name} are from memory here. Check its print.", name=leader.name)
            )
        if leader.note:
            notes.append(say("{name}: {note}.", name=leader.name, note=leader.note))
    if verdict in {"unlisted", "measure again"}:
        notes.append(say("Measure clear of a bell end, a flared cut or a dent, then try again."))
    if od is not None and 1.036 <= od.value_in <= 1.066:
        notes.append(
            say("If it is a thread, count: 11.5 to the inch is hose thread, 14 is pipe thread.")
        )
    return tuple(notes)


def _cautions_of(pipe: Pipe, clues: Sequence[Clue]) -> list[Text]:
    """What goes with one pipe, and what of the print speaks against it."""
    strange = [clue.says for clue in clues if clue.fits(pipe) is False]
    said: list[Text] = []
    if pipe.material == "cpvc":
        said.append(say("CPVC takes its own cement, and does not fit PVC pipe sockets."))
    if not pipe.rigid:
        said.extend(caution("no_cement_pe"))
    if strange:
        said.append(say("The print says {what}, which does not fit.", what=", ".join(strange[:3])))
    return said


def cautions_for(
    shown: Sequence[Rival],
    measure: str | None,
    clues: Sequence[Clue],
    *,
    kind: OtherKind | None = None,
    alikes: Sequence[Product] = (),
) -> tuple[Text, ...]:
    """The cautions that go with what it may be, and with the look proposed."""
    if kind is not None:
        return caution(*kind.cautions, "local_code")
    likely = [
        one.product for one in shown if one.product is not None and one.probability >= NAMED_FROM
    ]
    said: list[Text] = []
    if any(one.is_gas for one in alikes):
        said.extend(caution("gas_unknown"))
    dry = [
        one
        for one in (*alikes, *likely)
        if one.kind is not None and one.kind.effect == "no pressure"
    ]
    if dry:
        said.append(
            say(
                "It may be {name}. That is not made to hold water under pressure.",
                name=_others(dry),
            )
        )
    if likely:
        said.extend(_cautions_of(likely[0].pipe, clues))
    if measure in {"wall", "bore"}:
        said.extend(caution("depressurise", "blade"))
    said.extend(caution("local_code"))
    return tuple(said)
