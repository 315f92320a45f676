"""Why it leaks or let go: three ways in, the questions as steps, and what to do about it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import cache, partial
from typing import Any

from fieldkit.engine.diagnosing.belief import judgement_worth, posterior, priors
from fieldkit.engine.diagnosing.diagnose import SAFE_FIRST, Diagnosis, diagnose, understood
from fieldkit.engine.diagnosing.next_question import MOST_QUESTIONS, next_question
from fieldkit.engine.diagnosing.signs import Setting
from fieldkit.engine.problems import OutOfRange, Problem
from fieldkit.engine.words import Figure, Text, join, say
from fieldkit.flows.block import Block, Card, Cards, Notes, Steps, Table
from fieldkit.flows.block import Facts as FactRows
from fieldkit.flows.choosing.request import ask_transition
from fieldkit.flows.diagnosing.request import (
    GAPS,
    TUBE_SIZES,
    JobSays,
    from_facts,
    joint_said,
)
from fieldkit.flows.drawings.places import leak_places
from fieldkit.flows.facts import taught
from fieldkit.flows.figures import counted
from fieldkit.flows.flow import Flow, Onward
from fieldkit.flows.halt import STOPPED
from fieldkit.flows.question import Choice, Group, Known, Option, Quantity, Step
from fieldkit.tables.diagnosis import Question, causes, options, questions
from fieldkit.typed.request import Request

#: What is stored when it was none of the causes named.
SOMETHING_ELSE = "something_else"

#: The one cause that says the joint itself is in order.
SOUND = "water_from_elsewhere"

#: The least and most that can be typed for a number, in the question's unit.
_BOUNDS: Mapping[str, tuple[float, float]] = {
    "od_gap_in": (-0.5, 0.5),
    "id_gap_in": (-0.5, 0.5),
    "static_psi": (0.0, 400.0),
    "turns_past_hand": (0.0, 10.0),
    "hours_since_cement": (0.0, 100_000.0),
    "cement_temp_f": (-40.0, 150.0),
    "short_of_stop_in": (0.0, 12.0),
}

# ── The steps ────────────────────────────────────────────────────────────────────────────────

SAFE = Step(
    "safe",
    "First make it safe",
    Choice(
        (
            Option("shut", "It is shut off and drained", "isolated, depressurized"),
            Option("wires", "There are wires in the water, or bare ones", stops="electricity"),
            Option(
                "house",
                "It is before or on the backflow preventer",
                "house side",
                stops="house_side",
            ),
            Option("gas", "I smell gas, or the pipe is yellow", stops="gas"),
        )
    ),
    trade="isolate and depressurize",
    why="A joint under pressure can let go in your face.",
    hint="Shut the valve and the supply, open the lowest point, watch it run dry.",
    caution=("stand_clear", "eyes"),
    cant_tell="I can’t shut it off",
    out_stops="cannot_shut_off",
)

#: Place on the joint → what it says, as answers of the diagnosis.
_PLACES: Mapping[str, Mapping[str, str]] = {
    "socket_weld": {"fitting_type": "solvent_socket", "leak_place": "glue_line"},
    "thread": {"fitting_type": "npt_thread", "leak_place": "thread_line"},
    "hose": {"fitting_type": "hose_thread", "leak_place": "thread_line"},
    "barb": {"fitting_type": "barb", "leak_place": "tube_mouth"},
    "ring": {"fitting_type": "ring", "leak_place": "tube_mouth"},
    "collar": {"fitting_type": "collar", "leak_place": "tube_mouth"},
    "grip": {"fitting_type": "grip_ring", "leak_place": "pushfit_mouth"},
    "saddle": {"fitting_type": "saddle", "leak_place": "pushfit_mouth"},
    "valve": {"leak_place": "fitting_body"},
    "tube_wall": {"fitting_type": "tube_run", "leak_place": "tube_wall"},
}

PLACE = Step(
    "place",
    "Where does the first drop appear?",
    Choice(
        (
            Option("socket_weld", "Where white pipe is glued into a part", "solvent weld"),
            Option("thread", "Where two parts screw together", "pipe thread"),
            Option("hose", "At a hose nut with a washer", "hose thread"),
            Option("barb", "Where tube is pushed over a ridged end", "barb"),
            Option("ring", "Where tube is pushed inside a part", "push-in ring"),
            Option("collar", "Under a locking nut on the tube", "locking-nut barb"),
            Option("grip", "Where white pipe is pushed in without glue", "grip-ring push-fit"),
            Option("saddle", "Under a tee clamped round the pipe", "saddle tee"),
            Option("valve", "Through the wall of a valve or a part", "fitting body"),
            Option("tube_wall", "Out of the tube itself", "tube wall"),
        )
    ),
    trade="leak origin",
    why="The place rules out most causes.",
    hint="Look from the side; do not reach in yet. Water runs along pipe: look for the first drop.",
    caution=("box_hazards",),
    cant_tell="I can’t see",
    picture=lambda known: leak_places(),
)


#: Asked in place of a gap where the log knows the tube: we take the one from the other.
SIZE = Step(
    "fitting_size",
    "What size is marked on the fitting?",
    Quantity("in", at_least=0.1, at_most=6.0, common=("0.620 in", "0.700 in", "0.710 in")),
    trade="fitting size",
    why="The tube was measured. A fitting takes one size.",
    hint="Look on its side or on the bag: often three digits after the point.",
    cant_tell="There is none, or I can’t read it",
    short="Size on the fitting",
)


def _kind(question: Question) -> Choice | Quantity | Group:
    if question.id in GAPS:  # the person reads two sizes; taking one from the other is ours
        tube = (
            say("Outside of the tubing") if GAPS[question.id] == "OD" else say("Hole of the tubing")
        )
        sizes = (("tube", tube, question.unit), ("fitting", SIZE.short, question.unit))
        return Group(sizes, at_least=len(sizes))
    if question.kind == "number":
        low, high = _BOUNDS[question.id]
        common = tuple((typed, typed) for typed in question.common)
        return Quantity(question.unit, at_least=low, at_most=high, common=common)
    return Choice(tuple(Option(o.option_id, o.label, o.trade) for o in options()[question.id]))


@cache
def question_step(question: str) -> Step:
    """A row of questions.csv as a step: the homeowner's words, the technician's beside them."""
    row = questions()[question]
    care = ("cap_first",) if row.water_on else ()
    return Step(
        row.id,
        row.ask,
        _kind(row),
        short=row.ask,
        trade=row.trade,
        why=row.why,
        hint=row.hint,
        caution=("depressurise", "stand_clear") if row.water_off_first else care,
        sources=(row.source,),
    )


# ── What is known, and what to ask next ──────────────────────────────────────────────────────


@dataclass(frozen=True, slots=True)
class WayIn:
    """How a person comes to the diagnosis, and what that says already."""

    id: str
    title: str
    trade: str
    about: str
    says: Mapping[str, str]
    asks_place: bool = False


WAYS_IN = (
    WayIn(
        "leak-now",
        "It is leaking",
        "active leak",
        "Why it leaks, in eight questions or fewer, and how to repair it.",
        {},
        asks_place=True,
    ),
    WayIn(
        "popped-off",
        "It popped off",
        "blow-off",
        "Why it let go, and how to put it back so that it stays.",
        {"failure_form": "came_apart"},
    ),
    WayIn(
        "failed-test",
        "It failed the test",
        "failed pressure test",
        "Why it did not hold pressure, and what to remake.",
        {"when_first": "first_fill"},
    ),
)


@dataclass(frozen=True, slots=True)
class KnownSoFar:
    """All answers; ``asked`` are those the person was asked for, the rest were known."""

    given: Mapping[str, str | float | None]
    says: JobSays
    known: frozenset[str]

    @property
    def asked(self) -> list[str]:
        return [question for question in self.given if question not in self.known]


def known_so_far(way: WayIn, given: Known, facts: Known) -> KnownSoFar:
    """Put together what was answered, what the way in says, and what the log knows."""
    said: dict[str, str | float | None] = dict(way.says)
    said |= _PLACES.get(str(given.get("place")), {})
    implied = set(said)
    answered = {q: _number(given[q]) for q in questions() if q in given}
    implied -= answered.keys()
    said |= answered
    if SIZE.id in given:
        size = given[SIZE.id]
        facts = {**facts, SIZE.id: "" if size is None else f"{size:.3f}"}
    says = from_facts(facts, joint_said(said))
    known = {
        q: value
        for q, value in says.given.items()
        if q not in said and _told(q, value, says.setting)
    }
    return KnownSoFar({**known, **said}, says, frozenset(known) | implied)


def _told(question: str, value: str | float | None, setting: Setting) -> bool:
    """Whether what the log knows can be placed: what is out of range is asked anew."""
    with suppress(OutOfRange):
        understood({question: value}, setting)
        return True
    return False


def _number(answer: Any) -> Any:
    """An answer as the diagnosis takes it: of two sizes what one has over the other."""
    if isinstance(answer, Mapping):
        return float(answer["tube"]) - float(answer["fitting"])
    return answer


#: Signs that share a page: more than this and the page is a form, not a look.
MOST_ON_A_PAGE = 5


def signs(way: WayIn, step: Step, given: Known, facts: Known) -> tuple[Step, ...]:
    """The step, and what else is worth looking at before the page is sent."""
    alone = {PLACE.id, SAFE.id, "fitting_type"}
    if step.id in alone or step.id in given:
        return (step,)
    found, open_yet = [step], dict(given)
    while len(found) < MOST_ON_A_PAGE:
        open_yet[found[-1].id] = None
        following = choose_next(way, open_yet, facts)
        if following is None or following.id in alone:
            break
        found.append(following)
    return tuple(found)


def choose_next(way: WayIn, given: Known, facts: Known) -> Step | None:
    """Look, make it safe, then whatever tells most; None when it can be answered.

    The place is asked while it still leaks: once it is drained there is no drop to see.
    """
    if way.asks_place and "place" not in given:
        return PLACE
    if "safe" not in given:
        return SAFE
    if given.get("enough"):
        return None
    now = known_so_far(way, given, facts)
    evidence = understood(now.given, now.says.setting).evidence
    # Picking the place and reading the fitting's size were questions too.
    most = MOST_QUESTIONS - ("place" in given) - (SIZE.id in given)
    belief = posterior(evidence, _history(facts))
    following = next_question(evidence, belief, asked=now.asked, most=most, closed=now.says.closed)
    if following.best is None:
        return None
    question = following.best.question
    measured = facts.get(TUBE_SIZES.get(question, "")) is not None
    if measured and SIZE.id not in given and not now.says.setting.size:
        return SIZE
    return question_step(question)


def _history(facts: Known) -> Mapping[str, int]:
    """What earlier failures of this company were found to be, where the log was asked for it."""
    return facts.get("history") or {}


# ── The answer ───────────────────────────────────────────────────────────────────────────────


def work_out(way: WayIn, given: Known, facts: Known) -> Diagnosis:
    """The diagnosis from all that is known, with parts that fit this joint."""
    now = known_so_far(way, given, facts)
    enough = bool(given.get("enough"))
    found = diagnose(
        now.given,
        now.says.setting,
        from_job=now.known,
        enough=enough,
        history=_history(facts),
        closed=now.says.closed,
    )
    counted = facts.get("counted") or {}
    return replace(
        found,
        next_question=None,
        remake=_remake(found.causes[0].id, facts),
        here=_here(found, counted),
        counted=counted,
    )


def _here(found: Diagnosis, counted: Known) -> tuple[Text, ...]:
    """What became of such joints here, and what that is worth beside the trade's judgement."""
    lines = []
    log = say("the log on this phone") if counted.get("on") == "phone" else say("this crew’s log")
    of_kind = counted.get("kinds", {}).get(found.joint)
    if of_kind and of_kind["made"]:
        lines.append(
            say(
                "Of {of} joints of this kind in {log}, {n} came back.",
                of=of_kind["made"],
                log=log,
                n=of_kind["came_back"],
            )
        )
    proved = {cause: n for cause, n in counted.get("found", {}).items() if cause in causes()}
    if proved:
        lines.append(
            say(
                "Of {of} failures found out there, {n} were: {cause}. They count beside the trade’s"
                " judgment, which is worth {worth}.",
                of=sum(proved.values()),
                n=proved.get(found.causes[0].id, 0),
                cause=found.causes[0].name,
                worth=Figure(judgement_worth(), "", 0),
            )
        )
    return tuple(lines)


def _remake(cause: str, facts: Known) -> tuple[str, ...]:
    """Parts to make this joint anew, from the transition calculation, where sizes are known."""
    if causes()[cause].family not in {"solvent", "thread", "tube", "grip"}:
        return ()
    nominal, od = facts.get("pipe.nominal"), facts.get("tube.od_in")
    if nominal is None or od is None:
        return ()
    body: dict[str, Any] = {"pvc": {"nominal": nominal}, "tubing": {"od": od}}
    for key, name in (("pressure", "site.pressure_psi"), ("temperature", "site.temperature_f")):
        if facts.get(name) is not None:
            body[key] = facts[name]
    if facts.get("tube.bore_in") is not None:
        body["tubing"]["bore"] = facts["tube.bore_in"]
    try:
        answer = ask_transition(Request(body)).as_json()
    except Problem:  # sizes that no assembly is known for: the general list stands
        return ()
    best = next(iter(answer.get("assemblies", ())), None)
    return tuple(counted(part["count"], part["name"]) for part in best["parts"]) if best else ()


def show(answer: Known) -> tuple[Block, ...]:
    """Cause first, then the proof, then the mending."""
    first, second = answer["causes"][0], answer["runner_up"]
    blocks: list[Block] = [
        FactRows(
            (
                (say("Look first at"), first["name"]),
                (say("How sure"), answer["sure"]),
                (say("If it is not that"), second["name"]),
            )
        ),
        *_known_here(answer),
        Steps(say("Prove it before you repair it"), tuple(answer["checks"])),
        Steps(say("How to repair it"), tuple(first["fix"]), folded=True),
    ]
    also = answer.get("also", ())
    for one in also:
        title = say("Also put right: {cause}", cause=one["name"])
        blocks.append(Steps(title, tuple(one["fix"]), folded=True))
    needed = dict.fromkeys(part for one in (first, *also) for part in one["parts"])
    blocks.append(Notes(say("You need"), tuple(needed)))
    if answer["remake"]:
        blocks.append(Notes(say("To make this joint anew"), tuple(answer["remake"])))
    blocks += [
        Notes(say("So that it stays repaired"), (first["prevent"],)),
        Notes(say("When to stop and call a licensed person"), (first["stop"],), folded=True),
    ]
    mended = {one["id"] for one in (first, *also)}
    for pair in answer["pairs"]:
        if not mended.issuperset(pair["causes"]):
            both = join(pair["names"], "; ")
            title = say("Two causes may act together: repair both")
            blocks.append(Notes(title, (both, pair["seen_as"])))
    blocks += _reasons(answer)
    cards = []
    for one in answer["causes"][:4]:  # how to tell stands above, where it is to be proven
        check = () if one["check"] in answer["checks"] else ((say("How to tell"), one["check"]),)
        cards.append(Card(one["name"], check, pick=one["id"]))
    cards.append(Card(say("Something else"), (), pick=SOMETHING_ELSE))
    blocks.append(Cards(say("What was it really?"), tuple(cards), ask=say("It was this")))
    return tuple(blocks)


def _known_here(answer: Known) -> list[Block]:
    here = tuple(answer.get("here") or ())
    return [Notes(say("What the log knows of such joints"), here)] if here else []


def _reasons(answer: Known) -> list[Block]:
    because = answer["because"]
    speaks_for = tuple(one["answer"] for one in because if one["for"] > one["against"])
    against = tuple(one["answer"] for one in because if one["against"] > 0.1)
    known = tuple(one["answer"] for one in because if one["from_job"])
    if known:
        known += (say("Not right? Strike it out on the joint’s page, then ask again."),)
    found = [
        (say("What speaks for it"), speaks_for),
        (say("What speaks against it"), against),
        (say("We already know"), known),
    ]
    return [Notes(title, lines) for title, lines in found if lines]


def learn(given: Known, answer: Known) -> dict[str, Any]:
    """The leader and its probability. What was known of an earlier leak or test holds no more."""
    if not answer.get("causes"):
        return {}
    first = answer["causes"][0]
    learned = {
        "leak.cause": first["id"],
        "leak.probability": first["probability"],
        "leak.joint": answer.get("joint"),
        "leak.really": None,
        "leak.mended_at": None,
        "leak.remake": None,
        **taught(given, {"static_psi": "site.pressure_psi", "thread_parts": "thread.pair"}),
    }
    return learned if first["id"] == SOUND else learned | {"test.verdict": None}


def pick(answer: Known, chosen: str) -> dict[str, Any]:
    """What it was found to be in the end."""
    return {"leak.really": chosen}


def _onward(answer: Known, facts: Known) -> Onward | None:
    """After a cause comes the repair; after a stop nothing here."""
    return None if answer.get("verdict") == STOPPED else Onward("mend", say("Repair it"))


def _to_buy(answer: Known) -> Onward | None:
    """What the repair needs, on a card for the store."""
    return None if answer.get("verdict") == STOPPED else Onward("card", say("What to buy"))


def _flow(way: WayIn) -> Flow:
    asked = [question_step(question) for question in questions()]
    return Flow(
        id=way.id,
        title=way.title,
        trade=way.trade,
        about=way.about,
        steps=(*((PLACE,) if way.asks_place else ()), SAFE, SIZE, *asked),
        work_out=partial(work_out, way),
        show=show,
        learn=learn,
        cautions=SAFE_FIRST,
        pick=pick,
        choose_next=partial(choose_next, way),
        choose_together=partial(signs, way),
        pages=("What do you see?",),
        uses_history=True,
        onward=_onward,
        beside=_to_buy,
    )


FLOWS: tuple[Flow, ...] = tuple(_flow(way) for way in WAYS_IN)


def _share(count: int, of: int) -> Text:
    return say("{share}%", share=Figure(100 * count / of))


# ── How often the first guess was right ──────────────────────────────────────────────────────


def outcomes(jobs: Iterable[Known]) -> Table:
    """How often the first guess was right, by cause, from the facts of joints.

    Only joints with both a diagnosis and what it was found to be count: an unconfirmed guess
    teaches nothing.
    """
    pairs = [
        (facts["leak.cause"], facts["leak.really"])
        for facts in jobs
        if facts.get("leak.cause") and facts.get("leak.really")
    ]
    guessed = Counter(guess for guess, _ in pairs)
    right = Counter(guess for guess, truth in pairs if guess == truth)
    rows = [
        (
            causes()[one].title if one in causes() else one,
            str(n),
            str(right[one]),
            _share(right[one], n),
        )
        for one, n in guessed.most_common()
    ]
    if pairs:
        total = sum(right.values())
        rows.append((say("All"), str(len(pairs)), str(total), _share(total, len(pairs))))
    return Table(
        say("How often the first guess was right"),
        (say("First guess"), say("Times"), say("Right"), say("Share")),
        tuple(rows),
    )


def weights(jobs: Iterable[Known]) -> Table:
    """What the failures found out do to the diagnosis: each cause before any answer, then and now.

    So that a lead sees what the company's own history changes.
    """
    found = Counter(facts["leak.really"] for facts in jobs if facts.get("leak.really") in causes())
    usual, ours = priors(), priors(found)
    return Table(
        say("What these change: how likely each is before the first question"),
        (say("Cause"), say("Found"), say("By the trade’s judgment"), say("With your history")),
        tuple(
            (
                causes()[one].title,
                str(n),
                say("{share}%", share=Figure(100 * usual[one], "", 1)),
                say("{share}%", share=Figure(100 * ours[one], "", 1)),
            )
            for one, n in found.most_common()
        ),
    )
