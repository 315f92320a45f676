"""Guided: screw threads together, and learn when to stop turning."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from fieldkit.engine.joining.thread import Screwed, thread
from fieldkit.engine.problems import OutOfRange, Problem
from fieldkit.engine.words import Figure, say
from fieldkit.engine.working import Answer
from fieldkit.flows.block import Block, Drawing, Facts, Notes, Table
from fieldkit.flows.checklist import makes
from fieldkit.flows.drawings.thread import (
    marked_hand_tight,
    tape_direction,
    turns_past_hand,
)
from fieldkit.flows.figures import amount, number
from fieldkit.flows.flow import OTHER_PARTS, Flow
from fieldkit.flows.joining.acts import in_order, shut_off, still
from fieldkit.flows.pipe_asks import size_options
from fieldkit.flows.question import Choice, Confirm, Known, Option, Quantity, Step
from fieldkit.tables.fittings import fittings, made_by, made_right

#: Joint kinds of joints.csv whose thread kind needs no question.
_FORMS_OF_KIND: Mapping[str, tuple[str, str]] = {
    "npt": ("npt", "npt"),
    "npt_swivel": ("npt", "swivel"),
    "hose": ("hose", "hose"),
    "g": ("g", "g"),
    "r": ("r", "r"),
    "mixed": ("hose", "npt"),
}


_threaded = makes("thread")


#: What the parts of fittings.csv are made of, where no thread of theirs is metal.
_PLASTIC = frozenset({"PVC", "plastic", "plastic, steel teeth"})


def _leaked(known: Known) -> str | None:
    """The kind of thread of a joint that is made anew, from what was said of its leak."""
    right = made_right(str(known.get("leak.joint") or ""))
    return right.id if right is not None and right.making == "thread" else None


def _sealant(known: Known) -> str | None:
    """What goes on the thread: as answered here, else as on a joint like this one."""
    return known["sealant"] if "sealant" in known else known.get("thread.sealant")


def _told_sealant(known: Known) -> bool:
    return "sealant" in known or known.get("thread.sealant") is not None


def _all_plastic(known: Known) -> bool:
    """Whether every part that was chosen is plastic, and none of what stands there is screwed."""
    assembly = known.get("parts.assembly")
    if not isinstance(assembly, Mapping) or known.get("site.place") == "riser":
        return False
    rows = [fittings().get(str(part.get("id"))) for part in assembly.get("parts", ())]
    return bool(rows) and all(
        row is not None and (row.made_of in _PLASTIC or row.family == "clamp") for row in rows
    )


def _may_be_metal(known: Known) -> bool:
    return _taper(known) and not _all_plastic(known)


def _kind(known: Known) -> str | None:
    """The kind of thread: the one picked, or the only one among the chosen parts."""
    if known.get("kind"):
        return str(known["kind"])
    kinds = {kind for kind in known.get("parts.joints") or () if kind in made_by("thread")}
    if not kinds and (leaked := _leaked(known)):
        return leaked
    # Where several kinds are to be made, the tapered one is the one that can go wrong.
    return "npt" if "npt" in kinds else next(iter(sorted(kinds)), None)


def _taper(known: Known) -> bool:
    return _threaded(known) and _kind(known) in {"npt", "r", None}


def _washer(known: Known) -> bool:
    return _threaded(known) and _kind(known) in {"npt_swivel", "hose", "g"}


def _molded(known: Known) -> str:
    return "plastic" if known.get("thread.pair") == "moulded_pair" else ""


def _any(*tests: Callable[[Known], bool]) -> Callable[[Known], bool]:
    return lambda known: any(test(known) for test in tests)


def _screwed(known: Known) -> Screwed:
    """The joint as far as it is known; what nobody could tell is taken by the safe side."""
    kind = _kind(known) or "npt"
    male_thread, female_thread = _FORMS_OF_KIND[kind]
    taper = kind in {"npt", "r"}
    sized = taper or kind == "g"
    size = (known.get("size") or known.get("thread.size") or "1/2") if sized else "3/4"
    turns = known.get("turns") if taper else None
    sealant = _sealant(known) if taper else "washer"
    return Screwed(
        size=str(size),
        male=str(known.get("male") or "plastic"),
        female=str(known.get("female") or "plastic"),
        male_thread=male_thread,
        female_thread=female_thread,
        turns=None if turns is None else float(turns),
        sealant=None if sealant is None else str(sealant),
    )


def _dial(known: Known) -> Drawing | None:
    """How far to turn this thread; none where it must not be screwed at all."""
    try:
        made = thread(replace(_screwed(known), turns=None))
    except Problem:
        return None
    return None if made.adapter else turns_past_hand(made.turns_min, made.turns_max)


_MATERIALS_IN = (
    Option("plastic", "Plastic", "molded plastic"),
    Option("metal", "Metal", "brass or steel"),
)

STEPS = (
    Step(
        "kind",
        "What kind of thread is it?",
        Choice(
            (
                Option("npt", "Narrows towards its end, no washer", "tapered pipe thread"),
                Option("npt_swivel", "Loose nut with a washer, on a pipe thread", "swivel"),
                Option("hose", "Hose nut with a washer, on a hose faucet", "hose thread"),
                Option("r", "Marked R, Rc or Rp, no washer", "ISO 7 taper"),
                Option("g", "Marked G, with a washer", "ISO 228 parallel"),
                Option("mixed", "One side is a hose thread, the other a pipe thread"),
            )
        ),
        trade="thread form",
        why="Hose and pipe threads start on each other but never seal.",
        hint="Count crests over one inch: 11½ on a hose thread, 14 on ½ and ¾ in pipe thread.",
        when=lambda known: (
            known.get("parts.joints") is None and (_leaked(known) is None or "kind" in known)
        ),
        cant_tell="I can’t tell: take it as pipe thread",
        sources=("asme-b1-20-1", "asme-b1-20-7"),
    ),
    Step(
        "size",
        "What size is the thread?",
        Choice(size_options("1/2", "3/4", "1", "1-1/4", "1-1/2", "2")),
        trade="nominal size",
        why="Small threads split first.",
        hint=say(
            "It is molded on the part. A ½ in thread measures {od} across.",
            od=Figure(0.84, "in", 2),
        ),
        fact="thread.size",
        when=_any(_taper, lambda known: _threaded(known) and _kind(known) == "g"),
        cant_tell="I can’t tell: take ½ in, the first to split",
        sources=("asme-b1-20-1",),
        short="Size of the thread",
    ),
    Step(
        "male",
        "What is the part with the thread outside made of?",
        Choice(_MATERIALS_IN),
        trade="male material",
        why="A hard metal male wedges a plastic female open.",
        when=_may_be_metal,
        cant_tell="I can’t tell: take it as plastic",
        short="Thread outside is on",
        likely=_molded,
    ),
    Step(
        "female",
        "What is the part with the thread inside made of?",
        Choice(
            (
                *_MATERIALS_IN,
                Option("plastic valve", "The body of a plastic valve", "valve body"),
                Option("banded plastic", "Plastic with a metal band", "reinforced female"),
            )
        ),
        trade="female material",
        why="The female is the side that splits.",
        when=_may_be_metal,
        cant_tell="I can’t tell: take it as plastic",
        short="Thread inside is in",
        likely=_molded,
    ),
    shut_off(_any(_taper, _washer)),
    Step(
        "clean",
        "Clean both threads and look for cracks or old tape",
        Confirm("Clean and whole"),
        trade="inspect threads",
        why="Grit and old tape hold the threads apart.",
        when=_any(_taper, _washer),
        caution=("depressurise", "eyes"),
    ),
    Step(
        "sealant",
        "What goes on the thread?",
        Choice(
            (
                Option("tape", "Thread-seal tape", "PTFE tape"),
                Option("paste", "Paste marked safe for PVC", "non-hardening paste"),
                Option("tape and paste", "Both tape and paste"),
                Option("oil paste", "Oily or unmarked paste", "pipe dope"),
                Option("none", "Nothing"),
            )
        ),
        trade="sealant",
        why="A tapered thread leaves a spiral gap that drips without sealant.",
        when=_taper,
        caution=("grease",),
        cant_tell="I can’t tell",
        sources=("thread-articles",),
        fact="thread.sealant",
        short="On the thread",
    ),
    Step(
        "wrap",
        "Wrap the tape clockwise as you face the male end, from its second thread",
        Confirm("Wrapped"),
        trade="wrap with the thread",
        why="So it does not unwind as you turn, and no scraps reach the emitters.",
        hint="One pass, half over the last; two from 2 in on. Of thin tape, two or three.",
        # On the page that asks for the sealant, too.
        when=lambda known: (
            _taper(known)
            and (_sealant(known) in {"tape", "tape and paste"} or not _told_sealant(known))
        ),
        sources=("thread-articles",),
        picture=lambda known: tape_direction(),
    ),
    Step(
        "washer",
        "Seat a whole, clean washer, and no tape",
        Confirm("Washer is in"),
        trade="gasket",
        why="The washer seals, not the thread.",
        when=_washer,
    ),
    Step(
        "hand",
        "Turn it hand tight and mark both parts",
        Confirm("Hand tight and marked"),
        trade="hand tight",
        why="Turns are counted from here.",
        hint="Turn backwards until it drops, then forwards. It must start without force.",
        when=_any(_taper, _washer),
        caution=("two_turns",),
        picture=lambda known: marked_hand_tight(),
    ),
    Step(
        "turns",
        "How many turns past hand tight did you go?",
        Quantity(
            "turns",
            at_least=0.0,
            at_most=10.0,
            common=("1 turn", ("1.5 turns", "1½ turns"), "2 turns"),
        ),
        trade="turns past finger tight",
        why="One turn and a bit makes it tight; more wedges the female until it splits.",
        hint="Strap wrench. Watch the mark. Stop at 1½ in ½ in plastic, at one on a plastic valve.",
        when=_taper,
        sources=("astm-f1498",),
        picture=_dial,
        short="Turns past hand tight",
    ),
)


def _work_out(given: Known, facts: Known) -> Answer:
    known = dict(facts) | dict(given)
    if not _threaded(known):
        return Answer(verdict="nothing_to_do", headline=say("The chosen parts have no thread."))
    try:
        return thread(_screwed(known))
    except OutOfRange as found:
        step = {"turns_past_hand_tight": "turns"}.get(found.field, found.field)
        raise found.at(step) from None


def _show(answer: Known) -> tuple[Block, ...]:
    if "turns_max" not in answer:
        return ()
    if answer["adapter"]:
        return (
            Facts(((say("What to fit"), answer["adapter"]),)),
            Notes(say("Why"), (answer["headline"],)),
        )
    rows: list[tuple[str, str]] = [
        (
            say("Turns past hand tight"),
            say(
                "{low} to {high}", low=number(answer["turns_min"]), high=number(answer["turns_max"])
            ),
        ),
        (say("Usual"), number(answer["turns_usual"])),
        (say("Sealant"), answer["sealant_advice"]),
        (say("Which way"), answer["direction"]),
    ]
    todo, why = in_order(say("Step by step"), answer["steps"])
    blocks: list[Block] = [
        Facts(tuple(rows)),
        turns_past_hand(answer["turns_min"], answer["turns_max"], answer["turns_past_hand_tight"]),
        todo,
    ]
    if answer["hoop_stress_psi"]:
        blocks.append(
            Table(
                say("How hard the female is stretched, at first"),
                ("", say("Stress")),
                (
                    (
                        say("At most, all on the female"),
                        amount(answer["hoop_stress_psi"], "psi", 0),
                    ),
                    (
                        say("If both parts share it"),
                        amount(answer["hoop_stress_shared_psi"], "psi", 0),
                    ),
                    (
                        say("PVC pipe is designed for"),
                        amount(answer["design_stress_psi"], "psi", 0),
                    ),
                    (say("PVC holds in the long run"), amount(answer["strength_psi"], "psi", 0)),
                ),
            )
        )
    return (*blocks, why)


def _learn(given: Known, answer: Known) -> dict[str, Any]:
    if "turns_max" not in answer:
        return {}
    learned = {
        "thread.size": given.get("size"),
        "thread.turns": given.get("turns"),
        "thread.sealant": given.get("sealant"),
    }
    told = {name: value for name, value in learned.items() if value is not None}
    return {**told, "thread.verdict": answer["verdict"]}


JOIN_THREAD = Flow(
    id="join-thread",
    title="Screw the threads together",
    trade="thread make-up",
    about="Whether the threads match, what seals them, and when to stop turning.",
    together=(
        (
            *("size", "male", "female", "sealant", "shut", "clean", "wrap", "washer", "hand"),
            "turns",
        ),
    ),
    pages=("Screw them together",),
    straight_on=lambda answer: "next" if answer.get("verdict") == "ok" else "",
    aside=still,
    steps=STEPS,
    work_out=_work_out,
    show=_show,
    learn=_learn,
    refusals={
        "wrong_pair": ("female", "male"),
        "wrong_sealant": ("sealant",),
        "too_loose": ("turns",),
    },
    otherwise=OTHER_PARTS,
    cautions=("two_turns", "depressurise"),
    then=("join-tube", "plan-test"),
)

FLOWS: tuple[Flow, ...] = (JOIN_THREAD,)
