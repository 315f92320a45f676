"""How likely each cause is, given the answers: a small Bayesian network in plain Python.

The model, in five parts.

1. *What may be true* is a cause of ``causes.csv`` alone, or a pair of ``cause_pairs.csv`` together
   (a weak grip and a high load), each on one type of joint. It starts at its weight over the sum
   of the weights, times how often that cause strikes that type. A pair answers a question as the
   one of the two that has an opinion on it, or, where both have one, as either, half and half.
   What a pair gains is shared equally by its two causes.
2. *The type of joint conditions the rest*: answers that cannot occur on it are dropped and each
   row rescaled, so that causes that strike any joint are not pushed down by a second "where"
   answer. The true type is never taken as known: what the person says of it is one more answer,
   so the other answers can make up for a wrong or a missing one.
3. *People slip*: an answer is wrong with the question's ``slip``, and then any is as likely. So
   one odd answer lowers a cause, and never buries it.
4. *Answers that hang together are not counted twice.* ``linked_signs.csv`` names pairs of answers
   that are one sign seen twice, and how many times more often they come together than chance
   among joints of the same cause. The joint table of two linked questions is, for each cause, the
   one with those odds ratios and with the rows of ``likelihoods.csv`` as its margins (iterative
   proportional fitting). Two agreeing signs then weigh less than their product.
5. The links form trees, so the whole is a tree-augmented Bayes net, and each sum over a question
   without an answer is exact: it drops out without a trace.

All answers enter at once, so their order cannot matter, and "can't tell" changes nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from math import fsum, log2
from operator import mul

from fieldkit.tables.diagnosis import (
    base_rows,
    cause_pairs,
    causes,
    judged,
    linked_signs,
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

#: Proportional fitting stops when no margin is off by more than this.
FITTED_WITHIN = 1e-9
#: … or after so many rounds; ten to twenty are usual.
MOST_ROUNDS = 200

Row = tuple[float, ...]

#: Question id → option id. Only known answers: what a person cannot tell is left out.
Evidence = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class State:
    """One thing that may be true: these causes, on this type of joint."""

    causes: tuple[str, ...]
    joint: str


def _place(question: str, option: str) -> int:
    return [o.option_id for o in options()[question]].index(option)


@cache
def _prior() -> tuple[tuple[State, float], ...]:
    weights: dict[tuple[str, ...], float]
    weights = {(row.id,): row.prior_weight for row in causes().values()}
    weights |= {(pair.cause_a, pair.cause_b): pair.prior_weight for pair in cause_pairs()}
    total = fsum(weights.values())
    found = []
    for together, weight in weights.items():
        # A pair strikes only the joints that both of its causes strike.
        shares = [1.0] * len(options()[JOINT_TYPE])
        for one in together:
            row = judged()[one, JOINT_TYPE]
            shares = [s * p * (p > SELDOM) for s, p in zip(shares, row, strict=True)]
        for option, share in zip(options()[JOINT_TYPE], shares, strict=True):
            if share:
                state = State(together, option.option_id)
                found.append((state, weight / total * share / fsum(shares)))
    return tuple(found)


@cache
def states() -> tuple[State, ...]:
    """Everything that may be true."""
    return tuple(state for state, _ in _prior())


@cache
def priors() -> Row:
    """Probability of each state before any answer."""
    return tuple(p for _, p in _prior())


@dataclass(frozen=True, slots=True)
class Rows:
    """P(option | state) for one question.

    Most states share a row, so each row is kept once: ``row_of[s]`` is the place in ``rows`` of
    state ``s``. ``entropies`` holds −Σ p log₂ p of each row. [bit]
    """

    rows: tuple[Row, ...]
    row_of: tuple[int, ...]
    entropies: Row

    @staticmethod
    def of(rows: Iterable[Row]) -> Rows:
        """Keep each row once."""
        places: dict[Row, int] = {}
        row_of = tuple(places.setdefault(row, len(places)) for row in rows)
        return Rows(tuple(places), row_of, tuple(entropy(row) for row in places))


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


@cache
def _rows(question: str) -> Rows:
    """P(option | state), slips included."""
    slip = questions()[question].slip
    count = len(options()[question])

    def row(state: State) -> Row:
        if question == JOINT_TYPE:
            raw: Row = tuple(float(o.option_id == state.joint) for o in options()[question])
        else:
            allowed = fits(question, state.joint)
            raw = tuple(
                p * ok for p, ok in zip(raw_row(state.causes, question), allowed, strict=True)
            )
        total = fsum(raw)
        return tuple((1 - slip) * p / total + slip / count for p in raw)

    return Rows.of(row(state) for state in states())


# ── Answers that hang together ───────────────────────────────────────────────────────────────


@cache
def neighbours() -> dict[str, tuple[str, ...]]:
    """The questions that each question is linked with."""
    found: dict[str, dict[str, None]] = {question: {} for question in options()}
    for link in linked_signs():
        found[link.question_a][link.question_b] = None
        found[link.question_b][link.question_a] = None
    return {question: tuple(others) for question, others in found.items()}


@cache
def trees() -> dict[str, frozenset[str]]:
    """The questions that hang together with each question, itself included."""
    found: dict[str, frozenset[str]] = {}
    for question in options():
        reached, edge = {question}, [question]
        while edge:
            new = [other for other in neighbours()[edge.pop()] if other not in reached]
            reached.update(new)
            edge.extend(new)
        found[question] = frozenset(reached)
    return found


@cache
def odds_between(question: str, other: str) -> tuple[Row, ...]:
    """How many times more often than chance each option of one meets each of the other."""
    times: dict[tuple[str, str], float] = {}
    for link in linked_signs():
        if (link.question_a, link.question_b) == (question, other):
            times[link.option_a, link.option_b] = link.times
        if (link.question_b, link.question_a) == (question, other):
            times[link.option_b, link.option_a] = link.times
    return tuple(
        tuple(times.get((a.option_id, b.option_id), 1.0) for b in options()[other])
        for a in options()[question]
    )


def fitted(odds: tuple[Row, ...], row: Row, column: Row) -> tuple[Row, ...]:
    """The joint table with these margins whose odds ratios are those of ``odds``.

    Iterative proportional fitting: scale rows, then columns, until both margins hold.

    Parameters
    ----------
    odds : tuple of tuple of float
        Times above chance, each above 0. [1]
    row, column : tuple of float
        Margins, each above 0 and summing to 1. [1]

    Returns
    -------
    tuple of tuple of float
        Joint probabilities. [1]

    Source
    ------
    deming-stephan. Status: from memory.

    Examples
    --------
    >>> joint = fitted(((6.0, 1.0), (1.0, 1.0)), (0.2, 0.8), (0.3, 0.7))
    >>> round(joint[0][0], 4), round(sum(joint[0]), 4)
    (0.1253, 0.2)
    """
    joint = [list(cells) for cells in odds]
    for _ in range(MOST_ROUNDS):
        worst = 0.0
        for cells, wanted in zip(joint, row, strict=True):
            total = sum(cells)
            worst = max(worst, abs(total - wanted))
            scale = wanted / total
            for j in range(len(cells)):
                cells[j] *= scale
        for j, wanted in enumerate(column):
            scale = wanted / sum(cells[j] for cells in joint)
            for cells in joint:
                cells[j] *= scale
        if worst < FITTED_WITHIN:
            break
    return tuple(tuple(cells) for cells in joint)


@lru_cache(maxsize=16384)
def _given(question: str, other: str, row: int, other_row: int) -> tuple[Row, ...]:
    """P(option of ``other`` | option of ``question``) for two of their rows, by place."""
    margin = _rows(question).rows[row]
    joint = fitted(odds_between(question, other), margin, _rows(other).rows[other_row])
    return tuple(tuple(cell / p for cell in cells) for cells, p in zip(joint, margin, strict=True))


@dataclass(frozen=True, slots=True)
class _Branch:
    """A question and, away from where we came, the linked ones behind which there is an answer.

    ``at`` is its place in the list of questions on the way; ``answered`` that of its answer.
    """

    question: str
    at: int
    answered: int | None
    further: tuple[_Branch, ...]


def _plan(question: str, came_from: str, known: Evidence, way: list[str]) -> _Branch | None:
    at = len(way)
    way.append(question)
    found = []
    for other in neighbours()[question]:
        if other != came_from:
            branch = _plan(other, question, known, way)
            if branch is not None:
                found.append(branch)
    if question not in known and not found and came_from:
        del way[at:]
        return None
    answered = _place(question, known[question]) if question in known else None
    return _Branch(question, at, answered, tuple(found))


def _chances(branch: _Branch, key: tuple[int, ...]) -> list[float]:
    """P(answers of the branch | option of its first question), one figure an option."""
    count = len(options()[branch.question])
    if branch.answered is None:
        chances = [1.0] * count
    else:
        chances = [0.0] * count
        chances[branch.answered] = 1.0
    for other in branch.further:
        table = _given(branch.question, other.question, key[branch.at], key[other.at])
        if other.answered is not None and not other.further:
            column = other.answered
            for i, cells in enumerate(table):
                chances[i] *= cells[column]
            continue
        behind = _chances(other, key)
        for i, cells in enumerate(table):
            if chances[i]:
                chances[i] *= sum(map(mul, cells, behind))
    return chances


@lru_cache(maxsize=16384)
def _joint_rows(question: str, answers: tuple[tuple[str, str], ...]) -> Rows:
    """P(option, answers of its tree | state), each option of ``question`` a cell."""
    way: list[str] = []
    branch = _plan(question, "", dict(answers), way)
    if branch is None or (branch.answered is None and not branch.further):
        return _rows(question)
    own = _rows(question).rows
    keys = list(zip(*(_rows(q).row_of for q in way), strict=True))
    places: dict[tuple[int, ...], int] = {}
    row_of = tuple([places.setdefault(key, len(places)) for key in keys])
    rows = tuple([tuple(map(mul, own[key[0]], _chances(branch, key))) for key in places])
    return Rows(rows, row_of, ())


def _in_tree(question: str, evidence: Evidence) -> tuple[tuple[str, str], ...]:
    tree = trees()[question]
    return tuple(sorted((q, o) for q, o in evidence.items() if q in tree))


@cache
def _strays(question: str) -> Row | None:
    """How often each state's joint lets the question be answered at all; None for always."""
    if not questions()[question].ask_when:
        return None
    return tuple(1.0 if is_asked_of(question, s.joint) else STRAY_ANSWER for s in states())


@lru_cache(maxsize=16384)
def _prediction(question: str, answers: tuple[tuple[str, str], ...]) -> Rows:
    found = _joint_rows(question, answers)
    rows = [tuple([p / total for p in row]) for row in found.rows for total in (sum(row),)]
    row_of: Sequence[int] = found.row_of
    strays = _strays(question)
    if strays is not None:
        # Rows once more, scaled, for the joints that the question is not asked of.
        count = len(rows)
        rows += [tuple([p * STRAY_ANSWER for p in row]) for row in rows]
        row_of = [k if share == 1.0 else k + count for k, share in zip(row_of, strays, strict=True)]
    return Rows(tuple(rows), tuple(row_of), tuple([entropy(row) for row in rows]))


def prediction(question: str, evidence: Evidence) -> Rows:
    """P(option | state, answers so far) of a question not yet answered.

    A row sums to less than 1 where the question does not apply to the state's type of joint.
    """
    return _prediction(question, _in_tree(question, evidence))


def posterior(evidence: Evidence) -> Row:
    """Probability of each state, given the answers.

    Examples
    --------
    >>> round(sum(posterior({"fitting_type": "barb"})), 12)
    1.0
    """
    weights: Iterable[float] = priors()
    done: set[str] = set()
    for question in sorted(evidence):  # one order, so that even the last bit is the same
        if (strays := _strays(question)) is not None:
            weights = [w * share for w, share in zip(weights, strays, strict=True)]
        if question in done:
            continue
        answers = _in_tree(question, evidence)
        done.update(q for q, _ in answers)
        table = _joint_rows(question, answers)
        chances = [sum(row) for row in table.rows]
        weights = [w * chances[k] for w, k in zip(weights, table.row_of, strict=True)]
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
