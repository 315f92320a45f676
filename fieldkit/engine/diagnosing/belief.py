"""How likely each cause is, given the answers: Bayes' rule over causes and types of joint.

1. *What may be true* is a cause of ``causes.csv`` alone, or a pair of ``cause_pairs.csv`` together
   (a weak grip and a high load), each on one type of joint. It starts at its weight over the sum
   of the weights, times how often that cause strikes that type. A pair answers a question as the
   one of the two that has an opinion on it, or, where both have one, as either, half and half.
   What a pair gains is shared equally by its two causes.
2. *What was found out before counts*: each earlier failure whose cause was proved adds one to the
   weight of that cause. The table's own weights are held to be worth as many such failures as
   they sum to, so a company's history takes over once it is longer than that.
3. *The type of joint conditions the rest*: answers that cannot occur on it are dropped and each
   row rescaled, so that causes that strike any joint are not pushed down by a second "where"
   answer. The true type is never taken as known: what the person says of it is one more answer,
   so the other answers can make up for a wrong or a missing one.
4. *People slip*: an answer is wrong with the question's ``slip``, and then any is as likely. So
   one odd answer lowers a cause, and never buries it.

Given the cause and the type of joint, answers are taken as independent. A model that also linked
signs which come together was tried: on failures drawn with those very links it named the right
cause in 59.5 of 100 and this one in 59.4, so it is not here.

All answers enter at once, so their order cannot matter, and "can't tell" changes nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from math import fsum, log2

from fieldkit.tables.diagnosis import (
    base_rows,
    cause_pairs,
    causes,
    judged,
    options,
    questions,
)

#: The question whose answer names the type of joint.
JOINT_TYPE = "fitting_type"

#: How often a question is answered on a joint that it is not asked of. Trade judgement: someone
#: who tells how many turns were made has a thread in hand, whatever else was said.
STRAY_ANSWER = 0.1

#: A type of joint that the table gives a cause so seldom is left to slips of the tongue: the
#: table has nothing under 0.01, so there such a share says "hardly ever", not how often.
SELDOM = 0.02

Row = tuple[float, ...]

#: Question id → option id. Only known answers: what a person cannot tell is left out.
Evidence = Mapping[str, str]

#: Cause → how many earlier failures were proved to be that.
History = Mapping[str, int]
NO_HISTORY: History = {}


@dataclass(frozen=True, slots=True)
class State:
    """One thing that may be true: these causes, on this type of joint."""

    causes: tuple[str, ...]
    joint: str


def _place(question: str, option: str) -> int:
    return [o.option_id for o in options()[question]].index(option)


@cache
def _weights() -> dict[tuple[str, ...], float]:
    weights: dict[tuple[str, ...], float]
    weights = {(row.id,): row.prior_weight for row in causes().values()}
    return weights | {(pair.cause_a, pair.cause_b): pair.prior_weight for pair in cause_pairs()}


def judgement_worth() -> float:
    """How many proved failures the table's weights count as: their sum. [1]"""
    return fsum(_weights().values())


def pairs_worth(cause: str) -> float:
    """Weights of the pairs that a cause is one of. [1]"""
    return fsum(w for both, w in _weights().items() if len(both) == 2 and cause in both)


@cache
def _by_joint() -> tuple[tuple[State, float], ...]:
    """Each state with its share of its causes' failures. [1]"""
    found = []
    for together in _weights():
        # A pair strikes only the joints that both of its causes strike.
        shares = [1.0] * len(options()[JOINT_TYPE])
        for one in together:
            row = judged()[one, JOINT_TYPE]
            shares = [s * p * (p > SELDOM) for s, p in zip(shares, row, strict=True)]
        for option, share in zip(options()[JOINT_TYPE], shares, strict=True):
            if share:
                found.append((State(together, option.option_id), share / fsum(shares)))
    return tuple(found)


@cache
def states() -> tuple[State, ...]:
    """Everything that may be true."""
    return tuple(state for state, _ in _by_joint())


def priors(history: History = NO_HISTORY) -> Row:
    """Probability of each state before any answer.

    The mean of a Dirichlet distribution whose pseudo-counts are the table's weights, once the
    proved failures are added to them: (weight + found) / (sum of weights + all found).

    Parameters
    ----------
    history : mapping
        Cause → failures proved to be that, 0 or more; causes that are not known are left out. [1]

    Returns
    -------
    tuple of float
        One figure a state; they sum to 1. [1]

    Source
    ------
    dirichlet-mean. Status: from memory. The weights are trade judgement.

    Examples
    --------
    >>> usual, ours = priors(), priors({"no_primer": 20})
    >>> by_cause(ours)["no_primer"] > 4 * by_cause(usual)["no_primer"]
    True
    """
    found = {one: n for one, n in history.items() if one in causes()}
    total = judgement_worth() + sum(found.values())
    weights = _weights()
    return tuple(
        (weights[state.causes] + (found.get(state.causes[0], 0) if len(state.causes) == 1 else 0))
        / total
        * share
        for state, share in _by_joint()
    )


def entropy(row: Iterable[float]) -> float:
    """Uncertainty of a set of probabilities.

    Parameters
    ----------
    row : iterable of float
        Probabilities, each 0 to 1. [1]

    Returns
    -------
    float
        −Σ p log₂ p. [bit]

    Source
    ------
    shannon. Status: secondary.

    Examples
    --------
    >>> entropy((0.25, 0.25, 0.25, 0.25))
    2.0
    """
    return -sum(p * log2(p) for p in row if p > 0)


def raw_row(together: tuple[str, ...], question: str) -> Row:
    """The row as the table has it: judged, or as common as in any joint."""
    opinions = [judged()[one, question] for one in together if (one, question) in judged()]
    if not opinions:
        return base_rows()[question]
    return tuple(fsum(cells) / len(opinions) for cells in zip(*opinions, strict=True))


def fits(question: str, joint: str) -> tuple[bool, ...]:
    """Which options can occur on a type of joint (all of them where none is meant for it)."""
    own = options()[question]
    found = tuple(not joint or not o.only_with or joint in o.only_with for o in own)
    return found if any(found) else (True,) * len(own)


def is_asked_of(question: str, joint: str) -> bool:
    """Whether the question makes sense on a type of joint."""
    asked = questions()[question].ask_when
    return not asked or joint in asked


@dataclass(frozen=True, slots=True)
class Rows:
    """P(option | state) for one question.

    Most states share a row, so each row is kept once: ``row_of[s]`` is the place in ``rows`` of
    state ``s``. A row sums to less than 1 where the question does not apply to the type of joint.
    """

    rows: tuple[Row, ...]
    row_of: tuple[int, ...]


@cache
def chances(question: str) -> Rows:
    """P(option | state) of a question, slips included."""
    slip = questions()[question].slip
    count = len(options()[question])
    places: dict[Row, int] = {}
    row_of = []
    for state in states():
        if question == JOINT_TYPE:
            raw: Row = tuple(float(o.option_id == state.joint) for o in options()[question])
        else:
            allowed = fits(question, state.joint)
            raw = tuple(
                p * ok for p, ok in zip(raw_row(state.causes, question), allowed, strict=True)
            )
        total = fsum(raw)
        given = 1.0 if is_asked_of(question, state.joint) else STRAY_ANSWER
        row = tuple(given * ((1 - slip) * p / total + slip / count) for p in raw)
        row_of.append(places.setdefault(row, len(places)))
    return Rows(tuple(places), tuple(row_of))


def posterior(evidence: Evidence, history: History = NO_HISTORY) -> Row:
    """Probability of each state, given the answers and what was found out before.

    Examples
    --------
    >>> round(sum(posterior({"fitting_type": "barb"})), 12)
    1.0
    """
    weights: Row = priors(history)
    for question in sorted(evidence):  # one order, so that even the last bit is the same
        place = _place(question, evidence[question])
        table = chances(question)
        column = [row[place] for row in table.rows]
        weights = tuple([w * column[k] for w, k in zip(weights, table.row_of, strict=True)])
    total = fsum(weights)
    return tuple(weight / total for weight in weights)


@cache
def _shares() -> tuple[tuple[tuple[str, ...], float], ...]:
    return tuple((state.causes, 1 / len(state.causes)) for state in states())


def by_cause(belief: Iterable[float]) -> dict[str, float]:
    """Probability of each cause, a pair's shared equally by its two; they sum to 1."""
    found = dict.fromkeys(causes(), 0.0)
    for (together, share), p in zip(_shares(), belief, strict=True):
        for one in together:
            found[one] += p * share
    return found


def by_pair(belief: Iterable[float]) -> dict[tuple[str, str], float]:
    """Probability that two causes act together."""
    found: dict[tuple[str, str], float] = {}
    for (together, _), p in zip(_shares(), belief, strict=True):
        if len(together) == 2:
            pair = (together[0], together[1])
            found[pair] = found.get(pair, 0.0) + p
    return found


def by_joint(belief: Iterable[float]) -> dict[str, float]:
    """Probability of each type of joint."""
    found = {option.option_id: 0.0 for option in options()[JOINT_TYPE]}
    for state, p in zip(states(), belief, strict=True):
        found[state.joint] += p
    return found


@cache
def suspects() -> tuple[tuple[str, ...], ...]:
    """The cause or the two causes of each state."""
    return tuple(state.causes for state in states())


@cache
def repairs() -> tuple[tuple[str, ...], ...]:
    """What each state calls for: the repair of its cause, or of each of its two causes."""
    return tuple(
        tuple(sorted({causes()[one].repair for one in state.causes})) for state in states()
    )


def by_repair(belief: Iterable[float]) -> dict[tuple[str, ...], float]:
    """Probability of each repair, or of two together, being what is called for; they sum to 1."""
    found: dict[tuple[str, ...], float] = {}
    for repair, p in zip(repairs(), belief, strict=True):
        found[repair] = found.get(repair, 0.0) + p
    return found


def ranked(shares: Mapping[str, float]) -> list[tuple[str, float]]:
    """Causes, most likely first; equals in the order of the table."""
    return sorted(shares.items(), key=lambda item: -item[1])


def plain_posterior(
    evidence: Evidence, rows: Mapping[tuple[str, str], Row] | None = None
) -> dict[str, float]:
    """The same question put to plain naive Bayes: single causes, no slips, no linked signs.

    The yardstick: any naive Bayes library fed the same rows must agree with it. ``rows`` stands
    in for the judged rows of the table.
    """
    opinions = judged() if rows is None else rows
    joint = evidence.get(JOINT_TYPE, "")
    weights = {row.id: row.prior_weight for row in causes().values()}
    for question, option in evidence.items():
        place = _place(question, option)
        allowed = fits(question, "" if question == JOINT_TYPE else joint)
        if not allowed[place]:
            allowed = fits(question, "")
        for one in weights:
            row = opinions.get((one, question), base_rows()[question])
            weights[one] *= row[place] / fsum(p for p, ok in zip(row, allowed, strict=True) if ok)
    total = fsum(weights.values())
    return {one: weight / total for one, weight in weights.items()}
