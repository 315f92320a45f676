"""Guided: put the flexible tubing on its barb, collar, ring or grip end."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from fieldkit.engine.cautions import caution
from fieldkit.engine.joining.tube_end import KINDS, WARM_SECONDS, TubeEnd, push_on
from fieldkit.engine.problems import OutOfRange
from fieldkit.engine.words import say
from fieldkit.engine.working import Answer
from fieldkit.flows.block import Block, Drawing, Facts, Lead
from fieldkit.flows.checklist import makes
from fieldkit.flows.drawings import gluing, pushing
from fieldkit.flows.figures import rating
from fieldkit.flows.flow import OTHER_PARTS, Flow
from fieldkit.flows.joining.acts import borne, highest_pressure, in_order, shut_off, still
from fieldkit.flows.question import Choice, Confirm, Known, Option, Step
from fieldkit.tables.fittings import joints, made_right
from fieldkit.tables.pipes import pipes


def _kinds(known: Known) -> tuple[str, ...]:
    """The ends to put on: those of the chosen parts, or the one picked here."""
    picked = known.get("kind")
    if picked:
        return (str(picked),)
    if not known.get("parts.joints") and (leaked := _leaked(known)):
        return (leaked,)
    return tuple(kind for kind in dict.fromkeys(known.get("parts.joints") or ()) if kind in KINDS)


def _leaked(known: Known) -> str | None:
    """The end of a joint that is made anew: what it was put on before, else what leaked."""
    before = known.get("tube_end.kind")
    if before in KINDS and not (before == "barb_bare" and known.get("leak.remake")):
        return str(before)
    right = made_right(str(known.get("leak.joint") or ""))  # of a bare barb the fix is a clamp
    return right.id if right is not None and right.id in KINDS else None


#: Families of the pipe table by what a barb sees of them: thin drip tubing, or thick pipe.
_WALLS = {
    **dict.fromkeys(("drip", "metric-lateral", "micro"), "thin"),
    **dict.fromkeys(("sidr-pe", "ips-pe", "cts-pe", "rural-pe", "metric-pe"), "thick"),
}


def _wall(known: Known) -> str:
    """Whether the tubing is thin or thick, where it was named."""
    return _WALLS.get(str(known.get("tube.family") or ""), "")


def _pushes(known: Known) -> bool:
    if "kind" in known and known["kind"] is None:
        return False  # nobody can tell what it goes on
    return makes("push")(known)


def _has(*kinds: str) -> Callable[[Known], bool]:
    return lambda known: any(kind in kinds for kind in _kinds(known))


def _ending(known: Known, *kinds: str) -> pushing.Ending:
    """What is known of the tube and of the end it goes on, the first of ``kinds`` before others."""
    found = _kinds(known)
    kind = next((one for one in found if one in kinds), found[0] if found else "")
    side = "tube" if kind in _TUBES else "pipe"
    row = pipes().get(str(known.get(f"{side}.id") or ""))
    return pushing.Ending(
        kind,
        known.get(f"{side}.od_in") or (row.od_in if row else None),
        known.get(f"{side}.bore_in") or (row.bore_in if row else None),
        _clamps(known) if kind == "barb_clamped" else 0,
    )


def _clamps(known: Known) -> int:
    """How many clamps the barb asks for at this pressure; one where that cannot be said."""
    try:
        return _pushed_on("barb_clamped", known).clamps
    except OutOfRange:
        return 1


def _drawn(draw: Callable[[pushing.Ending], Drawing], *kinds: str) -> Callable[[Known], Drawing]:
    """An act's picture, made from what is known of the tube and its end."""
    return lambda known: draw(_ending(known, *kinds))


_BARBED = tuple(kind for kind in KINDS if joints()[kind].seals == "bore")
_TO_A_STOP = tuple(kind for kind in KINDS if joints()[kind].seals == "outside")
_TUBES = tuple(kind for kind in KINDS if joints()[kind].holds_tube)
#: Said with the picture of the cut.
_TUBE_CUT = say("Cut straight across. A slanted end seals on one side only.")

STEPS = (
    Step(
        "kind",
        "What does the tube or pipe go on?",
        Choice(
            (
                Option("barb_clamped", "A ridged end, with a clamp", "clamped barb"),
                Option("barb_bare", "A ridged end, nothing else", "bare barb"),
                Option("collar", "A ridged end with a locking nut", "locking-nut barb"),
                Option("ring", "Into a tight ring", "compression ring"),
                Option("grip_tube", "Into teeth and a seal, for tubing", "push-fit"),
                Option("grip_pvc", "Into teeth and a seal, for rigid pipe", "grip-ring push-fit"),
                Option("micro_barb", "Small ¼ in tube on a small ridge", "micro barb"),
            )
        ),
        trade="tube end",
        why="Each kind of end goes on in its own way.",
        when=lambda known: (
            known.get("parts.joints") is None and (_leaked(known) is None or "kind" in known)
        ),
    ),
    Step(
        "tube",
        "Is the tubing thin and soft, or thick?",
        Choice(
            (
                Option("thin", "Thin drip tubing: squash it with two fingers", "drip tubing"),
                Option("thick", "Thick pipe sold by its bore", "SIDR polyethylene pipe"),
            )
        ),
        trade="wall",
        why="Thick pipe always needs clamps, and two of them at higher pressure.",
        when=lambda known: (
            _has("barb_bare", "barb_clamped")(known) and ("tube" in known or not _wall(known))
        ),
        cant_tell="I can’t tell: plan for thin",
        short="Thin and soft, or thick?",
    ),
    highest_pressure("It says how many clamps, and whether this end suits at all.", _pushes),
    shut_off(_pushes),
    Step(
        "cut",
        "Cut the end square and clean",
        Confirm("Cut"),
        trade="square cut",
        why="A slant seals on one side only. Cut back any end that was used before.",
        when=_pushes,
        caution=("depressurise", "blade", "eyes"),
        picture=lambda known: gluing.square_cut(_TUBE_CUT),
    ),
    Step(
        "mark",
        "Lay it beside the fitting and mark how deep it goes",
        Confirm("Marked"),
        trade="insertion mark",
        why="The mark shows that it is home.",
        when=_pushes,
        picture=_drawn(pushing.beside_the_fitting),
    ),
    Step(
        "warm",
        "If it is stiff, warm the end for a minute in hot water, which scalds: gloves on",
        Confirm("Soft enough"),
        trade="warm water",
        why="Warm tubing goes on without tearing. No oil: it slips off again.",
        when=_has(*_TUBES),
        caution=("warm_water",),
        picture=_drawn(lambda end: pushing.warm_water(end, WARM_SECONDS / 60), *_TUBES),
    ),
    Step(
        "clamps_on",
        "Slip the clamps over the tube before you push",
        Confirm("On the tube"),
        trade="stainless clamps",
        why="They do not go on afterwards.",
        when=_has("barb_clamped"),
        picture=_drawn(pushing.clamps_first, "barb_clamped"),
    ),
    Step(
        "nut",
        "Look at the nut: which way does it turn, and which side does it go on?",
        Confirm("Known"),
        trade="locking nut",
        why="On some fittings the nut is left-handed, or goes on the tube first.",
        when=_has("collar"),
        picture=_drawn(pushing.which_way_the_nut, "collar"),
    ),
    Step(
        "push_over",
        "Push it over every ridge, up to the shoulder",
        Confirm("Up to the shoulder"),
        trade="full insertion",
        why="The last ridge seals; the first ones only hold.",
        when=_has(*_BARBED),
        caution=("brace",),
        picture=_drawn(pushing.over_the_ridges, *_BARBED),
    ),
    Step(
        "push_in",
        "Push it in to the stop, until the mark is at the lip",
        Confirm("At the mark"),
        trade="full insertion",
        why="Short of the stop the seal is not reached.",
        when=_has(*_TO_A_STOP),
        caution=("brace", "grease"),
        picture=_drawn(pushing.into_the_stop, *_TO_A_STOP),
    ),
    Step(
        "lock",
        "Tighten the clamps over the ridges, or turn the nut up by hand",
        Confirm("Tight"),
        trade="clamp or lock",
        why="Too loose lets go; a clamp too tight cuts the wall.",
        when=_has("barb_clamped", "collar"),
        picture=_drawn(pushing.locked, "barb_clamped", "collar"),
    ),
    Step(
        "tug",
        "Tug it hard by hand. Does it hold?",
        Choice(
            (
                Option("holds", "It holds"),
                Option("moves", "It moves or comes off"),
            )
        ),
        trade="pull test",
        why="Water pulls harder than you think.",
        when=_pushes,
        picture=_drawn(pushing.tug),
        short="Tugged hard by hand",
    ),
)


def _pushed_on(kind: str, known: Known) -> TubeEnd:
    """How one kind of end goes on here."""
    return push_on(
        kind,
        tube=str(known.get("tube") or _wall(known) or "thin"),
        rating_psi=known.get("tube.rating_psi"),
        **borne(known),
    )


def _work_out(given: Known, facts: Known) -> Answer:
    known = dict(facts) | dict(given)
    kinds = _kinds(known)
    if ("kind" in given and given["kind"] is None) or (_pushes(known) and not kinds):
        return Answer(
            verdict="unknown_end",
            headline=say("Nobody can say how it goes on before its kind of end is known."),
            cautions=caution("depressurise"),
        )
    if not _pushes(known):
        return Answer(
            verdict="nothing_to_do", headline=say("The chosen parts have no end to push on.")
        )
    try:
        ends = [_pushed_on(kind, known) for kind in kinds]
    except OutOfRange as found:
        field = "pressure" if found.field == "temperature" else found.field
        raise found.at(field) from None
    # The weakest end rules: it is the one that lets go.
    weakest = min(ends, key=lambda end: end.ceiling_psi)
    if given.get("tug") == "holds":
        return weakest
    moved = given.get("tug") == "moves"
    return replace(
        weakest,
        verdict="moved" if moved else "not_tugged",
        headline=say("It moved under a tug: take it off, cut the end back and push it home.")
        if moved
        else say("Tug it hard by hand before any water goes on."),
    )


def _show(answer: Known) -> tuple[Block, ...]:
    if answer["verdict"] == "unknown_end":
        look = say("Look for ridges, a nut, a ring or teeth, or take the part to the store.")
        return (Lead(do=look),)
    if "depth_rule" not in answer:
        return ()
    rows: list[tuple[str, str]] = [
        (say("How far"), answer["depth_rule"]),
        (say("Usually good up to"), rating(answer["ceiling_psi"])),
    ]
    if answer["clamps"]:
        rows.insert(1, (say("Clamps"), str(answer["clamps"])))
    if answer["nut"]:
        rows.insert(1, (say("The nut"), answer["nut"]))
    return (
        Facts(tuple(rows)),
        *in_order(say("Step by step"), answer["steps"]),
    )


def _learn(given: Known, answer: Known) -> dict[str, Any]:
    if "depth_rule" not in answer:
        return {}
    pressure = {"site.pressure_psi": given["pressure"]} if given.get("pressure") else {}
    return pressure | {
        "tube_end.kind": answer["kind"],
        "tube_end.clamps": answer["clamps"],
        "tube_end.verdict": answer["verdict"],
    }


JOIN_TUBE = Flow(
    id="join-tube",
    title="Put the tubing on",
    trade="barb, collar or ring",
    about="How to cut, push and lock the tube, and what pressure that end is good for.",
    straight_on=lambda answer: "next" if answer.get("verdict") == "ok" else "",
    together=(
        (
            *("tube", "pressure", "shut", "cut", "mark", "warm", "clamps_on", "nut"),
            *("push_over", "push_in", "lock", "tug"),
        ),
    ),
    pages=("Put it on",),
    aside=still,
    steps=STEPS,
    work_out=_work_out,
    show=_show,
    learn=_learn,
    refusals={"too_much": ("pressure", "kind", "tube")},
    otherwise=OTHER_PARTS,
    cautions=("depressurise", "brace"),
    then=("plan-test",),
)

FLOWS: tuple[Flow, ...] = (JOIN_TUBE,)
