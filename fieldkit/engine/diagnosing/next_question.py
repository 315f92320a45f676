"""Which question to ask next, and when to stop asking.

A question is worth what its answer is expected to change in what is done, and the information it
gives, over what it costs: a look costs less than a measurement. What can be seen or remembered
comes before what is under a nut, in a socket or on a thread. The case is closed when the leader
is clear and no answer would change the repair, when no answer would change the advice, when the
person has had enough, or after eight.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass
from functools import cache
from math import fsum
from operator import add, mul

from fieldkit.engine.diagnosing.belief import (
    JOINT_TYPE,
    Belief,
    Evidence,
    Row,
    by_joint,
    chances,
    entropy,
    is_asked_of,
    repair_of,
)
from fieldkit.tables.diagnosis import Question, cause_pairs, options, questions

#: Never more questions than a person bears at a wet box. Trade judgement.
MOST_QUESTIONS = 8
#: The leader is clear at this probability …
CLEAR = 0.88
#: … but no one is believed on fewer answers than this.
FEWEST_ANSWERS = 3
#: A question that is expected to tell less is not worth asking. [bit]
LEAST_BITS = 0.005
#: The right repair this much more often is worth one more question.
LEAST_RISE = 0.001
#: The case stays open while an answer is this likely to change what is to be repaired.
LEAST_CHANGE = 0.1
#: A fault that an answer shows outright is mended too if it is this likely to be at work, or if
#: the table pairs it with the likeliest: metal in a plastic thread that split.
AT_WORK = 0.05
#: … and is asked about for that alone where it is as common as this.
OFTEN = 0.2
#: Bits that a repair got right for certain is worth. Tried on drawn failures.
BITS_A_REPAIR = 6.0
#: What each step of effort adds to the cost of a question; a look costs 1.
COST_A_STEP = 0.15
#: A question is asked if the joint is at least this likely to be of a type that it is asked of.
LIKELY_TYPE = 0.3
#: Causes less likely than this change no expectation that anyone would notice.
NEGLIGIBLE = 1e-4
#: While a look is expected to tell this much, nothing is taken apart. [bit]
WORTH_A_LOOK = 0.05
#: … but so many questions are kept for what only the opened joint can tell.
KEPT_FOR_HIDDEN = 2

ENOUGH = "enough"
CLEAR_LEADER = "clear"
NOTHING_CHANGES = "nothing_changes"
ASKED_OUT = "asked_out"
NO_QUESTION = "no_question"


@dataclass(frozen=True, slots=True)
class Worth:
    """A question and what its answer is expected to give.

    ``bits``: information on what is the matter. ``rise``: how much likelier the repair that is
    then advised is to be the right one. ``worth``: both, over the cost.
    """

    question: str
    bits: float
    rise: float
    worth: float


@dataclass(frozen=True, slots=True)
class Next:
    """The next question, or why there is none."""

    best: Worth | None
    stopped: str = ""


def foreseen(
    question: str, evidence: Evidence, belief: Belief, told_apart: Callable[[str], str] = str
) -> dict[str, list[float]]:
    """P(what is told apart, answer): for each, one figure an option.

    Parameters
    ----------
    question : str
        A question not yet answered.
    evidence, belief : mapping
        Answers so far, and the probability of each cause given them. [1]
    told_apart : callable
        From a cause to what is to be told apart: itself, or ``repair_of`` it.

    Returns
    -------
    dict
        Probabilities that sum to 1 but for the causes that are negligible. [1]
    """
    rows = chances(question, evidence.get(JOINT_TYPE, ""))
    found: dict[str, list[float]] = {}
    for one, p in belief.items():
        if p >= NEGLIGIBLE:
            row, key = [p * q for q in rows[one]], told_apart(one)
            found[key] = list(map(add, found[key], row)) if key in found else row
    return found


def rise(
    question: str, evidence: Evidence, belief: Belief, told_apart: Callable[[str], str] = str
) -> float:
    """How much more often the likeliest is right if the question is asked first.

    E[max_r P(r | answer)] − max_r P(r): the value of the answer where right counts 1 and wrong
    0; nothing where no answer would make another the likeliest.

    Parameters
    ----------
    question : str
        A question not yet answered.
    evidence, belief : mapping
        Answers so far, and the probability of each cause given them. [1]
    told_apart : callable
        From a cause to what is to be right: itself, or ``repair_of`` it.

    Returns
    -------
    float
        0 to 1. [1]

    Source
    ------
    value-of-information. Status: from memory.

    Examples
    --------
    >>> from fieldkit.engine.diagnosing.belief import posterior
    >>> split = {"fitting_type": "npt_thread", "crack_seen": "lengthwise_female"}
    >>> rise("thread_parts", split, posterior(split), repair_of) > 0
    True
    """
    found = foreseen(question, evidence, belief, told_apart).values()
    # Below zero only by the last bit of a float.
    return max(0.0, fsum(map(max, zip(*found, strict=True))) - max(map(fsum, found)))


def gain_bits(question: str, evidence: Evidence, belief: Belief) -> float:
    """Information that the answer to a question is expected to give on what is the matter.

    Σ_o P(o) Σ_c P(c | o) log₂ [P(c | o) / P(c)]: the mutual information of answer and cause, of
    the answers that can be given; "can't tell" gives nothing.

    Parameters
    ----------
    question : str
        A question not yet answered.
    evidence, belief : mapping
        Answers so far, and the probability of each cause given them. [1]

    Returns
    -------
    float
        Never below 0. [bit]

    Source
    ------
    shannon. Status: secondary.

    Examples
    --------
    >>> from fieldkit.engine.diagnosing.belief import posterior
    >>> usual = posterior({})
    >>> gain_bits("fitting_type", {}, usual) > gain_bits("regulator", {}, usual)
    True
    """
    columns, entropies = _spread(question, evidence.get(JOINT_TYPE, ""))
    shares = tuple(belief.values())
    expected = [sum(map(mul, shares, column)) for column in columns]
    left = fsum(map(mul, shares, entropies))
    # Below zero only by the last bit of a float.
    return max(0.0, entropy(expected) - left)


@cache
def _spread(question: str, joint: str) -> tuple[tuple[Row, ...], Row]:
    """P(option | cause) a column an option, and the entropy of each cause's row. [1, bit]"""
    rows = chances(question, joint)
    return tuple(zip(*rows.values(), strict=True)), tuple(map(entropy, rows.values()))


def shown_causes(evidence: Evidence) -> list[str]:
    """The causes that answers show outright, such as a metal male in a plastic female."""
    named = (
        option.shows
        for question, answer in evidence.items()
        for option in options()[question]
        if option.option_id == answer
    )
    return [one for one in dict.fromkeys(named) if one]


def to_mend(evidence: Evidence, belief: Belief) -> list[str]:
    """The causes to put right: the likeliest, and those shown outright that may be at work.

    Each calls for a repair that none before it calls for.
    """
    found = [max(belief, key=belief.__getitem__)]
    for one in shown_causes(evidence):
        done = {repair_of(other) for other in found}
        at_work = belief[one] >= AT_WORK or _are_pair(one, found[0])
        if at_work and repair_of(one) not in done:
            found.append(one)
    return found


def _are_pair(shown: str, leader: str) -> bool:
    """Whether a fault that was seen brings the leader about, so that it comes back unmended."""
    return any({shown, leader} == {pair.cause_a, pair.cause_b} for pair in cause_pairs())


def change(question: str, evidence: Evidence, belief: Belief) -> float:
    """How likely the answer is to change what is to be repaired.

    By another repair becoming the likeliest, or by showing a fault outright that is likely to be
    at work and that the repairs so far do not put right.

    Parameters
    ----------
    question : str
        A question not yet answered.
    evidence, belief : mapping
        Answers so far, and the probability of each cause given them. [1]

    Returns
    -------
    float
        0 to 1. [1]

    Source
    ------
    fieldkit-rule

    Examples
    --------
    >>> from fieldkit.engine.diagnosing.belief import posterior
    >>> split = {"fitting_type": "npt_thread", "crack_seen": "lengthwise_female"}
    >>> belief = posterior(split)
    >>> change("thread_parts", split, belief) > 0.2 > change("bang_on_close", split, belief)
    True
    """
    mended = to_mend(evidence, belief)
    done = {repair_of(one) for one in mended}
    by_repair = foreseen(question, evidence, belief, repair_of)
    by_suspect = foreseen(question, evidence, belief)
    changed = 0.0
    for at, option in enumerate(options()[question]):
        heard = fsum(cells[at] for cells in by_repair.values())
        first = max(by_repair, key=lambda one: by_repair[one][at])
        anew = first != repair_of(mended[0])
        if option.shows and repair_of(option.shows) not in done:
            shown = by_suspect[option.shows][at] if option.shows in by_suspect else 0.0
            back = heard >= OFTEN and _are_pair(option.shows, mended[0])
            anew = anew or back or shown >= AT_WORK * heard
        changed += heard * anew
    return changed


def is_hidden(question: Question, evidence: Evidence) -> bool:
    """Whether the joint would have to be taken apart for the answer."""
    return question.apart and evidence.get("failure_form") != "came_apart"


def cost(question: Question, evidence: Evidence) -> float:
    """What a question costs the person, a look being 1. [1]"""
    open_to_sight = question.apart and not is_hidden(question, evidence)
    return 1 + COST_A_STEP * (0 if open_to_sight else question.effort - 1)


def _answerable(question: Question, who: str) -> float:
    """How often such a person can answer it; 1 where we do not know who asks."""
    if who == "homeowner":
        return question.answerable_homeowner
    return question.answerable_technician if who == "technician" else 1.0


def open_questions(evidence: Evidence, belief: Belief, closed: Collection[str]) -> list[Question]:
    """The questions not yet asked that make sense for a joint of the types still likely."""
    types = by_joint(evidence, belief)
    return [
        question
        for question in questions().values()
        if question.id not in closed
        and fsum(p for joint, p in types.items() if is_asked_of(question.id, joint)) >= LIKELY_TYPE
    ]


def worths(
    evidence: Evidence, belief: Belief, asked: Collection[str], who: str = ""
) -> list[Worth]:
    """The open questions, most worth asking first."""
    found = []
    for question in open_questions(evidence, belief, {*asked, *evidence}):
        bits = gain_bits(question.id, evidence, belief)
        repair = rise(question.id, evidence, belief, repair_of)
        value = (bits + BITS_A_REPAIR * repair) * _answerable(question, who)
        found.append(Worth(question.id, bits, repair, value / cost(question, evidence)))
    return sorted(found, key=lambda one: -one.worth)


def next_question(
    evidence: Evidence,
    belief: Belief,
    *,
    asked: Collection[str],
    who: str = "",
    enough: bool = False,
    most: int = MOST_QUESTIONS,
    closed: Collection[str] = (),
) -> Next:
    """The question most worth asking now, or why to stop.

    Parameters
    ----------
    evidence : mapping
        Known answers, those that the job's log already held among them.
    belief : mapping
        Probability of each cause, given them. [1]
    asked : collection of str
        Questions put so far, "can't tell" included; what the log answered is not among them.
    who : str
        ``homeowner``, ``technician`` or empty: how often such a person can answer.
    enough : bool
        The person wants the answer now.
    most : int
        How many questions there are in all. [1]
    closed : collection of str
        Questions that need not be put: what is known of the joint makes them idle.

    Returns
    -------
    Next
        The question, or one of the reasons to stop.

    Source
    ------
    shannon for the information; the limits are trade judgement.
    """
    if enough:
        return Next(None, ENOUGH)
    if len(asked) >= most:
        return Next(None, ASKED_OUT)
    found = worths(evidence, belief, {*asked, *closed}, who)
    if not found:
        return Next(None, NO_QUESTION)
    told_enough = len(evidence) >= FEWEST_ANSWERS
    clear = told_enough and max(belief.values()) >= CLEAR
    if clear:
        found = [w for w in found if change(w.question, evidence, belief) >= LEAST_CHANGE]
        if not found:
            return Next(None, CLEAR_LEADER)
    elif all(w.bits < LEAST_BITS for w in found) or (
        told_enough and not any(_changes_advice(w, evidence, belief) for w in found)
    ):
        return Next(None, NOTHING_CHANGES)
    looks_left = len(asked) < most - KEPT_FOR_HIDDEN
    found = _looks_first(found, evidence, clear=clear, looks_left=looks_left)
    return Next(max(found, key=lambda one: one.rise) if len(asked) == most - 1 else found[0])


def _looks_first(
    found: list[Worth], evidence: Evidence, *, clear: bool, looks_left: bool
) -> list[Worth]:
    """What can be seen, where that is enough for now; else all, what is hidden with it."""
    seen = [w for w in found if not is_hidden(questions()[w.question], evidence)]
    worth_it = clear or (looks_left and any(w.bits >= WORTH_A_LOOK for w in seen))
    return seen if seen and worth_it else found


def _changes_advice(worth: Worth, evidence: Evidence, belief: Belief) -> bool:
    """Whether an answer may change the repair, or the cause that is named for it."""
    return max(worth.rise, rise(worth.question, evidence, belief)) >= LEAST_RISE
