"""Guided: fit a part whose row of ``joints.csv`` says how, step by step."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from fieldkit.engine.joining.fit_part import fit_part
from fieldkit.engine.words import say
from fieldkit.engine.working import Answer
from fieldkit.flows.block import Block, Drawing, Facts
from fieldkit.flows.checklist import makes
from fieldkit.flows.drawings.saddle import round_the_pipe
from fieldkit.flows.figures import rating
from fieldkit.flows.flow import OTHER_PARTS, Flow
from fieldkit.flows.joining.acts import borne, highest_pressure, in_order, shut_off
from fieldkit.flows.question import Choice, Confirm, Known, Option, Step
from fieldkit.tables.fittings import joints, made_by
from fieldkit.tables.pipes import ips_pvc

#: The kinds that this flow makes, in the order of the table.
KINDS = tuple(kind for kind in joints() if kind in made_by("steps"))


def _kind(known: Known) -> str:
    """The kind that is made here: of the chosen parts, else the first of the table."""
    chosen = known.get("parts.joints")
    return next((kind for kind in KINDS if chosen is None or kind in chosen), "")


def _is(kind: str) -> Callable[[Known], bool]:
    return lambda known: _kind(known) == kind


def _picture(known: Known) -> Drawing:
    row = ips_pvc().get((str(known.get("pipe.nominal")), str(known.get("pipe.class"))))
    od_in = known.get("pipe.od_in")
    return round_the_pipe(
        row.od_in if od_in is None and row else od_in, row.wall_in if row else None
    )


def _acts(kind: str) -> tuple[Step, ...]:
    """What its row says is to be done, an act a step; care is called for before the first."""
    row = joints()[kind]
    return tuple(
        Step(
            f"{kind}_{number}",
            do,
            Confirm("Done"),
            trade=row.trade_name,
            why=reason,
            when=_is(kind),
            caution=("depressurise", "drill_dry", "eyes") if number == 1 else (),
            picture=_picture if number == 1 else None,
        )
        for number, (do, reason) in enumerate(zip(row.steps, row.step_whys, strict=True), start=1)
    )


_ACTS = tuple(act for kind in KINDS for act in _acts(kind))

STEPS = (
    highest_pressure("A clamped part bears less than the pipe it sits on.", makes("steps")),
    shut_off(makes("steps")),
    *_ACTS,
    Step(
        "stays",
        "Try to turn it on the pipe by hand. Does it stay?",
        Choice((Option("holds", "It stays"), Option("moves", "It turns or rocks"))),
        trade="pull test",
        why="What turns by hand will leak.",
        when=makes("steps"),
        short="Turned by hand",
    ),
)


def _work_out(given: Known, facts: Known) -> Answer:
    known = dict(facts) | dict(given)
    kind = _kind(known)
    if not kind:
        return Answer(
            verdict="nothing_to_do", headline=say("The chosen parts have nothing to clamp on.")
        )
    fitted = fit_part(kind, **borne(known))
    if given.get("stays") == "holds":
        return fitted
    moved = given.get("stays") == "moves"
    return replace(
        fitted,
        verdict="moved" if moved else "not_tried",
        headline=say("It turns: take the pressure off, set it anew and tighten it evenly.")
        if moved
        else say("Try to turn it by hand before any water goes on."),
    )


def _show(answer: Known) -> tuple[Block, ...]:
    if "steps" not in answer:
        return ()
    return (
        Facts(((say("Usually good up to"), rating(answer["ceiling_psi"])),)),
        *in_order(say("Step by step"), answer["steps"]),
    )


def _learn(given: Known, answer: Known) -> dict[str, Any]:
    return {"fitted.verdict": answer["verdict"]} if "steps" in answer else {}


FIT_PART = Flow(
    id="fit-part",
    title="Clamp the part on the pipe",
    trade="saddle tee",
    about="How to set a clamp-on tee on a pipe that stays whole, and what pressure it is good for.",
    together=((*(act.id for act in _ACTS), "stays"),),
    pages=("Clamp it on",),
    steps=STEPS,
    work_out=_work_out,
    show=_show,
    learn=_learn,
    refusals={"too_much": ("pressure",)},
    otherwise=OTHER_PARTS,
    cautions=("depressurise", "drill_dry"),
    then=("join-tube",),
)

FLOWS: tuple[Flow, ...] = (FIT_PART,)
