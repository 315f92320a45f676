"""How likely each cause is, given the answers: Bayes' rule over the causes.

1. A cause starts at its weight in ``causes.csv``, plus the failures of this company that were
   proved to be that, over the sum of both. The table's weights are held to be worth as many such
   failures as they sum to, so a company's history takes over once it is longer than that.
2. Each answer multiplies it by how often the cause shows that answer: its row of
   ``likelihoods.csv``, or how common the answer is in any joint where nobody has judged.
3. Once the type of joint is told, answers that cannot occur on it are dropped and each row is
   rescaled, so that causes that strike any joint are not pushed down by a second "where" answer.
4. People slip: an answer is wrong with the question's ``slip``, and then any is as likely. So
   one odd answer lowers a cause, and never buries it.

Given the cause, answers are taken as independent. A deeper model (causes in pairs as cases of
their own, the true type of joint behind the one told) was measured on 3,500 failures drawn from
the table: the cause first in 63.3 of 100 and the right repair in 70.0, this one in 63.0 and 69.5,
and it claimed to be surer than it was. Another, with signs that come together, was no better
either. So neither is here.

All answers enter at once, so their order cannot matter, and "can't tell" changes nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import cache
from math import fsum, log2

from fieldkit.tables.diagnosis import base_rows, causes, judged, options, questions

#: The question whose answer names the type of joint.
JOINT_TYPE = "fitting_type"

Row = tuple[float, ...]

#: Question id → option id. Only known answers: what a person cannot tell is left out.
Evidence = Mapping[str, str]

#: Cause → its probability; they sum to 1.
Belief = Mapping[str, float]

#: Cause → how many earlier failures were proved to be that.
History = Mapping[str, int]
NO_HISTORY: History = {}


def _place(question: str, option: str) -> int:
    return [o.option_id for o in options()[question]].index(option)


def judgement_worth() -> float:
    """How many proved failures the table's weights count as: their sum. [1]"""
    return fsum(row.prior_weight for row in causes().values())


def priors(history: History = NO_HISTORY) -> dict[str, float]:
    """Probability of each cause before any answer.

    The mean of a Dirichlet distribution whose pseudo-counts are the table's weights, once the
    proved failures are added to them: (weight + found) / (sum of weights + all found).

    Parameters
    ----------
    history : mapping
        Cause → failures proved to be that, 0 or more; causes that are not known are left out. [1]

    Returns
    -------
    dict
        Cause → probability; they sum to 1. [1]

    Source
    ------
    dirichlet-mean. Status: from memory. The weights are trade judgement.

    Examples
    --------
    >>> usual, ours = priors(), priors({"no_primer": 20})
    >>> ours["no_primer"] > 4 * usual["no_primer"]
    True
    """
    total = judgement_worth() + sum(n for one, n in history.items() if one in causes())
    return {one: (row.prior_weight + history.get(one, 0)) / total for one, row in causes().items()}


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
def chances(question: str, joint: str = "") -> Mapping[str, Row]:
    """P(option | cause) of a question on the type of joint that was told, slips included."""
    allowed = fits(question, "" if question == JOINT_TYPE else joint)
    slip = questions()[question].slip
    found = {}
    for one in causes():
        row = judged().get((one, question), base_rows()[question])
        total = fsum(p for p, ok in zip(row, allowed, strict=True) if ok)
        found[one] = tuple(
            (1 - slip) * p * ok / total + slip / len(row)
            for p, ok in zip(row, allowed, strict=True)
        )
    return found


def posterior(evidence: Evidence, history: History = NO_HISTORY) -> dict[str, float]:
    """Probability of each cause, given the answers and what was found out before.

    Source
    ------
    bayes. Status: secondary. The rows are trade judgement.

    Examples
    --------
    >>> found = posterior({"fitting_type": "barb", "hold_down": "none"})
    >>> max(found, key=found.get), round(sum(found.values()), 12)
    ('barb_no_clamp', 1.0)
    """
    weights = priors(history)
    for question in sorted(evidence):  # one order, so that even the last bit is the same
        place = _place(question, evidence[question])
        joint = evidence.get(JOINT_TYPE, "")
        # An answer that cannot occur on the joint that was told speaks against the joint.
        rows = chances(question, joint if fits(question, joint)[place] else "")
        weights = {one: weight * rows[one][place] for one, weight in weights.items()}
    total = fsum(weights.values())
    return {one: weight / total for one, weight in weights.items()}


def by_joint(evidence: Evidence, belief: Belief) -> dict[str, float]:
    """Probability of each type of joint: the one told, else as often as the causes strike it."""
    types = [option.option_id for option in options()[JOINT_TYPE]]
    if JOINT_TYPE in evidence:
        return {joint: float(joint == evidence[JOINT_TYPE]) for joint in types}
    rows = chances(JOINT_TYPE)
    return {
        joint: fsum(p * rows[one][at] for one, p in belief.items())
        for at, joint in enumerate(types)
    }


def repair_of(cause: str) -> str:
    """What mends a cause; causes of one repair are mended by the same work."""
    return causes()[cause].repair


def ranked(belief: Belief) -> list[tuple[str, float]]:
    """Causes, most likely first; equals in the order of the table."""
    return sorted(belief.items(), key=lambda item: -item[1])
