"""Which question to ask next, and when to stop asking.

A question is worth the information its answer is expected to give, over what it costs: a look
costs less than a measurement, a measurement less than taking a joint apart. When one question is
left, the one is asked that makes the first guess most likely right. Asking stops when the leader
is clear, when no answer would change the advice, when the person has had enough, or after eight.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from math import fsum
from operator import mul

from fieldkit.engine.diagnosing.belief import (
    Evidence,
    Row,
    by_cause,
    by_joint,
    entropy,
    is_asked_of,
    prediction,
    states,
)
from fieldkit.tables.diagnosis import Question, causes, questions

#: Never more questions than a person bears at a wet box. Trade judgement.
MOST_QUESTIONS = 8
#: The leader is clear at this probability …
CLEAR = 0.88
#: … but no one is believed on fewer answers than this.
FEWEST_ANSWERS = 3
#: A question that is expected to tell less is not worth asking. [bit]
LEAST_BITS = 0.005
#: Advice that is expected to get right this much more often is worth one more question.
LEAST_RISE = 0.001
#: What each step of effort adds to the cost of a question; a look costs 1.
COST_A_STEP = 0.15
#: A question is asked if the joint is at least this likely to be of a type that it is asked of.
LIKELY_TYPE = 0.3
#: States less likely than this change no expectation that anyone would notice.
NEGLIGIBLE = 1e-4

ENOUGH = "enough"
CLEAR_LEADER = "clear"
NOTHING_CHANGES = "nothing_changes"
ASKED_OUT = "asked_out"
NO_QUESTION = "no_question"


@dataclass(frozen=True, slots=True)
class Worth:
    """A question, the information it is expected to give, and that over its cost."""

    question: str
    bits: float
    worth: float


@dataclass(frozen=True, slots=True)
class Next:
    """The next question, or why there is none."""

    best: Worth | None
    stopped: str = ""


def gain_bits(question: str, evidence: Evidence, belief: Row) -> float:
    """Information that the answer to a question is expected to give.

    Σ_o P(o) Σ_s P(s | o) log₂ [P(s | o) / P(s)]: the mutual information of answer and state,
    of the answers that can be given; "can't tell" gives nothing.

    Parameters
    ----------
    question : str
        A question not yet answered.
    evidence : mapping
        Answers so far.
    belief : tuple of float
        Probability of each state, given them. [1]

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
    >>> gain_bits("fitting_type", {}, posterior({})) > gain_bits("regulator", {}, posterior({}))
    True
    """
    rows = prediction(question, evidence)
    mass = [0.0] * len(rows.rows)
    for p, k in zip(belief, rows.row_of, strict=True):
        mass[k] += p
    expected = [sum(map(mul, mass, column)) for column in zip(*rows.rows, strict=True)]
    # Below zero only by the last bit of a float.
    left: float = sum(map(mul, mass, rows.entropies))
    return max(0.0, entropy(expected) - left)


def chance_of_right(question: str, evidence: Evidence, belief: Row) -> float:
    """How likely the first guess is to be right once the question has been answered. [1]"""
    rows = prediction(question, evidence)
    heads = range(len(rows.rows[0]))
    by_answer = [dict.fromkeys(causes(), 0.0) for _ in heads]
    unanswered = dict.fromkeys(causes(), 0.0)
    for p, k, state in zip(belief, rows.row_of, states(), strict=True):
        if p < NEGLIGIBLE:
            continue
        share, row = p / len(state.causes), rows.rows[k]
        rest = share * (1 - sum(row))
        for one in state.causes:
            unanswered[one] += rest
            for head in heads:
                by_answer[head][one] += share * row[head]
    return fsum(max(shares.values()) for shares in (*by_answer, unanswered))


def cost(question: Question) -> float:
    """What a question costs the person, a look being 1. [1]"""
    return 1 + COST_A_STEP * (question.effort - 1)


def _answerable(question: Question, who: str) -> float:
    """How often such a person can answer it; 1 where we do not know who asks."""
    if who == "homeowner":
        return question.answerable_homeowner
    return question.answerable_technician if who == "technician" else 1.0


def open_questions(belief: Row, closed: Collection[str]) -> list[Question]:
    """The questions not yet asked that make sense for a joint of the types still likely."""
    types = by_joint(belief)
    return [
        question
        for question in questions().values()
        if question.id not in closed
        and fsum(p for joint, p in types.items() if is_asked_of(question.id, joint)) >= LIKELY_TYPE
    ]


def worths(evidence: Evidence, belief: Row, asked: Collection[str], who: str = "") -> list[Worth]:
    """The open questions, most worth asking first."""
    found = []
    for question in open_questions(belief, {*asked, *evidence}):
        bits = gain_bits(question.id, evidence, belief)
        found.append(Worth(question.id, bits, bits * _answerable(question, who) / cost(question)))
    return sorted(found, key=lambda one: -one.worth)


def _rise(found: Iterable[Worth], evidence: Evidence, belief: Row) -> list[tuple[float, Worth]]:
    leader = max(by_cause(belief).values())
    rises = [(chance_of_right(w.question, evidence, belief) - leader, w) for w in found]
    return sorted(rises, key=lambda pair: -pair[0])


def next_question(
    evidence: Evidence,
    belief: Row,
    *,
    asked: Collection[str],
    who: str = "",
    enough: bool = False,
    most: int = MOST_QUESTIONS,
) -> Next:
    """The question most worth asking now, or why to stop.

    Parameters
    ----------
    evidence : mapping
        Known answers, those that the job's log already held among them.
    belief : tuple of float
        Probability of each state, given them. [1]
    asked : collection of str
        Questions put so far, "can't tell" included; what the log answered is not among them.
    who : str
        ``homeowner``, ``technician`` or empty: how often such a person can answer.
    enough : bool
        The person wants the answer now.
    most : int
        How many questions there are in all. [1]

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
    leader = max(by_cause(belief).values())
    if leader >= CLEAR and len(evidence) >= FEWEST_ANSWERS:
        return Next(None, CLEAR_LEADER)
    found = worths(evidence, belief, asked, who)
    if not found:
        return Next(None, NO_QUESTION)
    if max(worth.bits for worth in found) < LEAST_BITS:
        return Next(None, NOTHING_CHANGES)
    last = len(asked) == most - 1
    if last or len(evidence) >= FEWEST_ANSWERS:
        rises = _rise(found, evidence, belief)
        if rises[0][0] < LEAST_RISE:
            return Next(None, NOTHING_CHANGES)
        if last:
            return Next(rises[0][1])
    return Next(found[0])
