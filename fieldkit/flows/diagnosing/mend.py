"""The repair: what to get, the steps of the fix, and how the joint is made anew or proven.

What a joining flow leads through is not told here as well: such causes keep only the steps that
come before, and the checklist goes on with that flow.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from fieldkit.engine.cautions import caution
from fieldkit.engine.words import Text, say
from fieldkit.engine.working import Answer, worked
from fieldkit.flows.block import Block, Notes, Steps
from fieldkit.flows.checklist import MADE_BY_FLOW
from fieldkit.flows.diagnosing.questions import SOUND
from fieldkit.flows.figures import amount, counted
from fieldkit.flows.flow import Flow
from fieldkit.flows.localize import as_text
from fieldkit.flows.pipe_names import name_on_side
from fieldkit.flows.question import Choice, Confirm, Known, Option, Step
from fieldkit.tables.diagnosis import Cause, causes
from fieldkit.tables.fittings import made_right

#: Causes whose joint is made anew in a joining flow: which of their fix steps come before it.
_BEFORE: Mapping[str, tuple[int, ...]] = {
    "no_primer": (0,),
    "insufficient_cure": (0, 1),
    "weld_not_seated": (0,),
    "wet_or_cold_weld": (0, 1),
    "cement_starved_or_wrong": (0,),
    "bad_cut_or_burr": (0, 1),
    "solvent_attack": (0, 1, 2),
    "sealant_missing": (0,),
    "sealant_misapplied": (0, 2),
    "thread_too_loose": (0, 1),
    "female_thread_cracked": (0, 1),
    "cross_threaded": (0, 1),
    "npt_hose_mix": (0,),
    "wrong_thread_parts": (0, 1),
    "dope_stress_crack": (0, 1, 2),
    "ring_od_mismatch": (0, 1, 2),
    "tube_not_pushed_home": (0, 2),
    "barb_no_clamp": (0, 2),
    "barb_too_small": (0, 1),
    "tube_split_by_barb": (0, 1),
    "clamp_bad": (0, 2),
    "collar_not_locked": (0,),
    "worn_tube_end": (0, 1),
    "contraction_pullout": (0, 2),
    "over_pressure": (0, 2),
    "water_hammer": (0, 2),
    "heat_softened_tube": (0, 1),
}

_FLOW_OF_FAMILY = {"solvent": "join-cement", "thread": "join-thread", "tube": "join-tube"}

#: What is no longer so once the joint is taken apart, by the flow that makes it anew.
_UNDONE = {
    "join-cement": ("weld.made_at", "weld.ready_at", "weld.cured"),
    "join-thread": ("thread.verdict", "thread.sealant"),
    "join-tube": ("tube_end.verdict",),
    "fit-part": ("fitted.verdict",),
}

#: A caution stands at the first step with one of these words; any other at the first step.
_AT_WORDS = {
    "blade": ("cut",),
    "vapour": ("prime", "cement"),
    "no_cement_pe": ("glue",),
    "brace": ("push",),
    "warm_water": ("warm", "hot water"),
    "scald": ("hot water", "sun"),
    "trench": ("bed", "bury", "cover"),
    "buried_services": ("bed", "bury", "cover", "stake"),
}

#: Where nobody can tell the cause, all of the joint is made anew.
_ANEW = (
    say("Cut the joint out, back to sound pipe and tubing"),
    say("Get new parts for the sizes you measured"),
)


def cause_of(known: Known) -> Cause | None:
    """What is to be repaired: what the person says now, what it was found to be, what is likely."""
    if "cause" in known:
        return causes().get(str(known["cause"]))
    really = known.get("leak.really")
    return causes().get(str(really if really is not None else known.get("leak.cause")))


def remake_flow(cause: Cause | None, facts: Known) -> str:
    """The joining flow that makes the joint anew; empty where the fix is whole without."""
    if cause is not None and cause.id not in _BEFORE:
        return ""
    row = made_right(str(facts.get("leak.joint")))
    push_fit = row is not None and row.making == "push" and row.on_pipe  # it is mended here
    of_joint = "" if row is None or push_fit else MADE_BY_FLOW[row.making]
    return of_joint if cause is None else _FLOW_OF_FAMILY.get(cause.family, of_joint)


def parts_needed(cause: Cause | None, facts: Known) -> tuple[Text, ...]:
    """What to have at hand: the cause's parts, those of this joint, and the sizes they must fit."""
    lines = [as_text(part) for part in (cause.parts if cause else ())]
    assembly = facts.get("parts.assembly")
    if isinstance(assembly, Mapping):
        lines += [
            say("If a part is spoilt: {part}", part=counted(part["count"], part["name"]))
            for part in assembly.get("parts", ())
        ]
    return (*lines, *sizes_told(facts))


def sizes_told(facts: Known) -> tuple[Text, ...]:
    """The sizes that parts must fit, of what is known of this joint."""
    found = []
    if name := name_on_side(facts, "pipe"):
        found.append(say("It must fit {what}.", what=name))
    if facts.get("tube.od_in") is not None:
        od = amount(facts["tube.od_in"], "in", 3)
        bore = amount(facts.get("tube.bore_in"), "in", 3, missing=say("not measured"))
        found.append(say("The tubing: outside {od}, hole {bore}.", od=od, bore=bore))
    elif name := name_on_side(facts, "tube"):
        found.append(say("It must fit {what}.", what=name))
    return tuple(found)


# ── The steps ────────────────────────────────────────────────────────────────────────────────

CAUSE = Step(
    "cause",
    "What is to be repaired?",
    Choice(tuple(Option(row.id, row.title) for row in causes().values())),
    trade="cause of the failure",
    why="Each cause has its own fix: a wrong one lets go again.",
    hint="Not sure? Go back and let it be found out: eight questions at the most.",
    when=lambda known: cause_of({k: v for k, v in known.items() if k != "cause"}) is None,
    cant_tell="I can’t tell: make it all anew",
)


def _is(cause: str) -> Callable[[Known], bool]:
    def when(known: Known) -> bool:
        found = cause_of(known)
        return found is not None and found.id == cause

    return when


def _fix_steps(cause: Cause) -> tuple[Step, ...]:
    kept = _BEFORE.get(cause.id, range(len(cause.fix_steps)))
    texts = [cause.fix_steps[place] for place in kept]
    at: dict[int, list[str]] = {}
    for one in cause.cautions:
        words = _AT_WORDS.get(one, ())
        places = (n for n, text in enumerate(texts) if any(w in text.casefold() for w in words))
        at.setdefault(next(places, 0), []).append(one)
    return tuple(
        Step(
            f"{cause.id}-{number}",
            text,
            Confirm(),
            caution=tuple(at.get(number, ())),
            when=_is(cause.id),
            cant_tell="",
            sources=(cause.source,),
        )
        for number, text in enumerate(texts)
    )


def _not_told(known: Known) -> bool:
    return "cause" in known and known["cause"] is None


_GROUPS = (
    *(_fix_steps(cause) for cause in causes().values()),
    tuple(
        Step(
            f"anew-{number}",
            text,
            Confirm(),
            when=_not_told,
            cant_tell="",
            caution=() if number else ("depressurise", "stand_clear", "blade"),
        )
        for number, text in enumerate(_ANEW)
    ),
)


def _aside(given: Known, facts: Known) -> tuple[Block, ...]:
    """What stands with the steps: what is mended, what to have at hand, when to stop."""
    known = dict(facts) | dict(given)
    cause = cause_of(known)
    if cause is None:
        return ()
    blocks: list[Block] = []
    if parts := parts_needed(cause, facts):
        blocks.append(Notes(say("You need"), parts))
    blocks.append(Notes(say("When to stop and call a licensed person"), (cause.stop,), folded=True))
    return tuple(blocks)


# ── The answer ───────────────────────────────────────────────────────────────────────────────


@dataclass(frozen=True, kw_only=True, slots=True)
class Mend(Answer):
    """What was mended, when, and the flow that makes the joint anew, empty where none is needed."""

    cause: str
    name: str
    remake: str
    mended_at: str
    prevent: str
    stop: str


def work_out(given: Known, facts: Known) -> Mend:
    """What the mending comes to: proven by a test, or first made anew."""
    cause = cause_of(dict(facts) | dict(given))
    remake = remake_flow(cause, facts)
    name = as_text(cause.title) if cause else say("a cause that nobody could tell")
    if cause is not None and cause.id == SOUND:
        verdict, headline = (
            "elsewhere",
            say("The joint is in order: the water comes from elsewhere."),
        )
    elif remake:
        verdict = "make_anew"
        headline = say("The old joint is off. Make it anew, then test it.")
    else:
        verdict = "mended"
        headline = say("Repaired: {cause}. Only a test shows that it holds.", cause=name)
    return Mend(
        verdict=verdict,
        headline=headline,
        cautions=caution("depressurise", "local_code"),
        working=(worked("fix_of_cause", name, rests=cause),) if cause else (),
        cause=cause.id if cause else "",
        name=name,
        remake=remake,
        mended_at=str(facts.get("now") or ""),
        prevent=as_text(cause.prevent) if cause else "",
        stop=as_text(cause.stop) if cause else "",
    )


def show(answer: Known) -> tuple[Block, ...]:
    """What keeps it mended, and when to call somebody."""
    blocks: list[Block] = []
    if answer["prevent"]:
        blocks.append(Steps(say("So that it stays repaired"), (answer["prevent"],)))
        blocks.append(
            Notes(say("When to stop and call a licensed person"), (answer["stop"],), folded=True)
        )
    return tuple(blocks)


def learn(given: Known, answer: Known) -> dict[str, Any]:
    """When it was repaired; what no longer holds of a joint that was taken apart."""
    learned: dict[str, Any] = {
        "leak.mended_at": answer["mended_at"],
        "leak.remake": answer["remake"] or None,
    }
    if given.get("cause") is not None:
        learned["leak.really"] = given["cause"]
    if answer["cause"] != SOUND:
        undone = ("test.verdict", *_UNDONE.get(answer["remake"], ()))
        learned |= dict.fromkeys(undone)
    return learned


MEND_FLOW = Flow(
    id="mend",
    title="Repair it",
    trade="repair",
    about="What you need, the steps of the fix, and the test that proves it.",
    steps=(CAUSE, *(step for group in _GROUPS for step in group)),
    work_out=work_out,
    show=show,
    learn=learn,
    cautions=("depressurise", "stand_clear"),
    together=tuple(tuple(step.id for step in group) for group in _GROUPS),
    pages=(
        *(say("Repair it: {cause}", cause=row.title) for row in causes().values()),
        say("Make it all anew"),
    ),
    aside=_aside,
    straight_on=lambda answer: str(answer.get("remake") or ""),
    then=("join-cement", "join-thread", "join-tube", "plan-test", "prove"),
)

FLOWS: tuple[Flow, ...] = (MEND_FLOW,)
