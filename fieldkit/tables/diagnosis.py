"""What the diagnosis knows: causes, questions, and how the causes answer them.

Each file can be edited in a spreadsheet. ``check`` says what is off, by file, line and column.
Only rows that carry an opinion stand in ``likelihoods.csv``: where nobody has judged how a cause
answers a question, the answer is as common as in any joint, ``base_p`` of the option.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from typing import Any

from fieldkit.tables.cautions import cautions
from fieldkit.tables.load import BadTable, load

#: How the number a person gives is placed among the options of its question.
MEASURES = (
    "as_read",
    "ring_window",
    "barb_window",
    "joint_ceiling",
    "thread_limits",
    "cure_share",
)

#: No answer may prove or rule out a cause alone: P(option | cause) stays within these.
LEAST_P, MOST_P = 0.01, 0.99


@dataclass(frozen=True, slots=True)
class Cause:
    """One reason why a joint leaks or lets go, with how to confirm, mend and prevent it.

    ``repair``: causes that name the same one are mended by the same work.
    """

    id: str
    title: str
    family: str
    repair: str
    prior_weight: float
    check: str
    fix_steps: tuple[str, ...]
    parts: tuple[str, ...]
    prevent: str
    caution: str
    stop: str
    cautions: tuple[str, ...]
    source: str
    status: str


@dataclass(frozen=True, slots=True)
class Question:
    """One question, in a homeowner's words (``ask``) and a technician's.

    ``effort``: 1 a look, 2 a try by hand, 3 a measurement, 4 taking the joint apart.
    ``apart``: it can be seen only once the joint is apart. ``water_on``: it needs the water on.
    ``slip``: share of answers that are given wrongly. ``ask_when``: the joint types it is asked
    of, empty for any. ``measure``: how a number is placed among the options, see ``MEASURES``.
    """

    id: str
    kind: str
    unit: str
    ask: str
    ask_technician: str
    trade: str
    why: str
    hint: str
    ask_when: tuple[str, ...]
    effort: int
    apart: bool
    water_off_first: bool
    water_on: bool
    answerable_homeowner: float
    answerable_technician: float
    slip: float
    measure: str
    common: tuple[str, ...]
    source: str
    status: str


@dataclass(frozen=True, slots=True)
class QuestionOption:
    """One answer of a question; for a number, the span of its measure that it covers.

    ``shows``: the cause that such an answer shows outright, empty for most: it is to be put
    right, whichever cause is likeliest.
    """

    question_id: str
    option_id: str
    position: int
    label: str
    trade: str
    lo: float | None
    lo_inclusive: bool
    hi: float | None
    hi_inclusive: bool
    only_with: tuple[str, ...]
    shows: str
    base_p: float
    source: str
    status: str

    def holds(self, value: float) -> bool:
        """Whether ``value`` of the question's measure falls in this option."""
        over = self.lo is None or value > self.lo or (self.lo_inclusive and value == self.lo)
        under = self.hi is None or value < self.hi or (self.hi_inclusive and value == self.hi)
        return over and under


@dataclass(frozen=True, slots=True)
class Likelihood:
    """How often a cause shows this answer, as judged for that cause.

    ``why``: the reason of a row that was added or changed after the first edition of the table.
    """

    cause_id: str
    question_id: str
    option_id: str
    p: float
    why: str
    source: str
    status: str


@dataclass(frozen=True, slots=True)
class CausePair:
    """Two causes that often act together: the one brings the other about, or both are needed."""

    cause_a: str
    cause_b: str
    seen_as: str
    source: str
    status: str


TABLES: dict[str, type] = {
    "causes": Cause,
    "questions": Question,
    "question_options": QuestionOption,
    "likelihoods": Likelihood,
    "cause_pairs": CausePair,
}


@cache
def causes() -> dict[str, Cause]:
    """All causes by id."""
    return {row.id: row for row in load("causes", Cause)}


@cache
def questions() -> dict[str, Question]:
    """All questions by id, in the table's order."""
    return {row.id: row for row in load("questions", Question)}


@cache
def options() -> dict[str, tuple[QuestionOption, ...]]:
    """The options of each question, in order of position."""
    rows = sorted(load("question_options", QuestionOption), key=lambda row: row.position)
    return {
        question: tuple(row for row in rows if row.question_id == question)
        for question in questions()
    }


@cache
def judged() -> dict[tuple[str, str], tuple[float, ...]]:
    """(cause, question) → P(option | cause) in the order of the options, where judged."""
    found: dict[tuple[str, str], dict[str, float]] = {}
    for row in load("likelihoods", Likelihood):
        found.setdefault((row.cause_id, row.question_id), {})[row.option_id] = row.p
    return {
        (cause, question): tuple(row[option.option_id] for option in options()[question])
        for (cause, question), row in found.items()
    }


@cache
def base_rows() -> dict[str, tuple[float, ...]]:
    """How common each option of a question is in any joint, in the order of the options."""
    return {q: tuple(option.base_p for option in rows) for q, rows in options().items()}


@cache
def cause_pairs() -> tuple[CausePair, ...]:
    """The causes that act together."""
    return load("cause_pairs", CausePair)


# ── What a spreadsheet can get wrong ─────────────────────────────────────────────────────────


def check() -> None:
    """Hold the deeper rules between the tables of this module.

    Raises
    ------
    BadTable
        Names the file, the line and the column that is off, and the rule it breaks.
    """
    check_causes(load("causes", Cause))
    check_questions(load("questions", Question))
    check_options(load("question_options", QuestionOption))
    check_likelihoods(load("likelihoods", Likelihood))
    check_pairs(load("cause_pairs", CausePair))


def _must(ok: bool, cell: tuple[str, int, str], value: object, rule: str) -> None:
    if not ok:
        raise BadTable(*cell, value, rule)


def _unique(table: str, column: str, keys: list[Any]) -> None:
    for line, key in enumerate(keys, start=2):
        _must(key not in keys[: line - 2], (table, line, column), key, "stands twice")


def check_causes(rows: tuple[Cause, ...]) -> None:
    """Ids once, weights above 0, cautions known, and nothing a person needs left empty."""
    _unique("causes", "id", [row.id for row in rows])
    for line, row in enumerate(rows, start=2):
        weight = row.prior_weight
        _must(weight > 0, ("causes", line, "prior_weight"), weight, "must be above 0")
        for column in (
            "title",
            "repair",
            "check",
            "fix_steps",
            "parts",
            "prevent",
            "stop",
            "cautions",
        ):
            value = getattr(row, column)
            _must(bool(value), ("causes", line, column), value, "must not be empty")
        for one in row.cautions:
            _must(one in cautions(), ("causes", line, "cautions"), one, "is not in cautions.csv")


def check_questions(rows: tuple[Question, ...]) -> None:
    """Kinds and measures from their lists, shares from 0 to 1, joint types known."""
    _unique("questions", "id", [row.id for row in rows])
    joints = {option.option_id for option in options()["fitting_type"]}
    for line, row in enumerate(rows, start=2):
        number = row.kind == "number"
        _must(row.kind in ("choice", "number"), ("questions", line, "kind"), row.kind, "is unknown")
        known = row.measure in (MEASURES if number else ("",))
        _must(known, ("questions", line, "measure"), row.measure, f"must be one of {MEASURES}")
        _must(1 <= row.effort <= 4, ("questions", line, "effort"), row.effort, "must be 1 to 4")
        _must(0 <= row.slip < 0.5, ("questions", line, "slip"), row.slip, "must be 0 to 0.5")
        for column in ("answerable_homeowner", "answerable_technician"):
            share = getattr(row, column)
            _must(0 < share <= 1, ("questions", line, column), share, "must be above 0, at most 1")
        for one in row.ask_when:
            _must(one in joints, ("questions", line, "ask_when"), one, "is no joint type")


def check_options(rows: tuple[QuestionOption, ...]) -> None:
    """Each question's shares sum to 1, and its spans follow each other without gap or overlap."""
    _unique("question_options", "option_id", [(row.question_id, row.option_id) for row in rows])
    joints = {row.option_id for row in rows if row.question_id == "fitting_type"}
    for line, row in enumerate(rows, start=2):
        q = row.question_id
        _must(q in questions(), ("question_options", line, "question_id"), q, "is no question")
        fits = set(row.only_with) <= joints
        _must(fits, ("question_options", line, "only_with"), row.only_with, "holds no joint type")
        cause = not row.shows or row.shows in causes()
        _must(cause, ("question_options", line, "shows"), row.shows, "is no cause")
    for question in questions().values():
        own = [(line, r) for line, r in enumerate(rows, start=2) if r.question_id == question.id]
        _must(len(own) >= 2, ("question_options", 1, "question_id"), question.id, "needs 2 options")
        total = math.fsum(row.base_p for _, row in own)
        last = own[-1][0]
        whole = math.isclose(total, 1, abs_tol=1e-6)
        _must(whole, ("question_options", last, "base_p"), round(total, 6), "must sum to 1")
        if question.kind == "number":
            _check_spans(own)


def _check_spans(own: list[tuple[int, QuestionOption]]) -> None:
    first, last = own[0], own[-1]
    _must(first[1].lo is None, ("question_options", first[0], "lo"), first[1].lo, "must be open")
    _must(last[1].hi is None, ("question_options", last[0], "hi"), last[1].hi, "must be open")
    for (_, under), (line, over) in pairwise(own):
        meets = under.hi is not None and under.hi == over.lo
        _must(meets, ("question_options", line, "lo"), over.lo, "must be the hi of the row before")
        once = under.hi_inclusive != over.lo_inclusive
        rule = "the edge must belong to one of the two rows"
        _must(once, ("question_options", line, "lo_inclusive"), over.lo_inclusive, rule)


def check_likelihoods(rows: tuple[Likelihood, ...]) -> None:
    """Each judged (cause, question) has every option once, within bounds, summing to 1."""
    groups: dict[tuple[str, str], dict[str, float]] = {}
    lines: dict[tuple[str, str], int] = {}
    for line, row in enumerate(rows, start=2):
        c, q = row.cause_id, row.question_id
        _must(c in causes(), ("likelihoods", line, "cause_id"), c, "is no cause")
        _must(q in questions(), ("likelihoods", line, "question_id"), q, "is no question")
        rule = f"must be {LEAST_P} to {MOST_P}: no answer proves or rules out a cause alone"
        _must(LEAST_P <= row.p <= MOST_P, ("likelihoods", line, "p"), row.p, rule)
        group = groups.setdefault((c, q), {})
        once = row.option_id not in group
        _must(once, ("likelihoods", line, "option_id"), row.option_id, "stands twice")
        group[row.option_id] = row.p
        lines[c, q] = line
    for (c, q), group in groups.items():
        line, wanted = lines[c, q], {option.option_id for option in options()[q]}
        rule = f"must be the options of {q}: {sorted(wanted)}"
        _must(set(group) == wanted, ("likelihoods", line, "option_id"), sorted(group), rule)
        total = math.fsum(group.values())
        whole = math.isclose(total, 1, abs_tol=1e-6)
        _must(whole, ("likelihoods", line, "p"), round(total, 6), f"{c}, {q}: must sum to 1")


def check_pairs(rows: tuple[CausePair, ...]) -> None:
    """Both causes known, and not the same."""
    _unique("cause_pairs", "cause_b", [frozenset((row.cause_a, row.cause_b)) for row in rows])
    for line, row in enumerate(rows, start=2):
        for column in ("cause_a", "cause_b"):
            one = getattr(row, column)
            _must(one in causes(), ("cause_pairs", line, column), one, "is no cause")
        differ = row.cause_a != row.cause_b
        _must(differ, ("cause_pairs", line, "cause_b"), row.cause_b, "is the same cause")
