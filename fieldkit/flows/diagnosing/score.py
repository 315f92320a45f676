"""How good the diagnosis is: played cases, and failures drawn from its own table.

Both play the same game: the engine asks, the case answers, and a question that it has no answer
for is "can't tell". Nothing is told that was not asked.
"""

from __future__ import annotations

import csv
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from random import Random
from statistics import median

from fieldkit.engine.diagnosing.belief import (
    JOINT_TYPE,
    NO_HISTORY,
    History,
    fits,
    is_asked_of,
    posterior,
    ranked,
)
from fieldkit.engine.diagnosing.diagnose import understood
from fieldkit.engine.diagnosing.next_question import next_question
from fieldkit.engine.diagnosing.signs import Setting
from fieldkit.engine.problems import Problem
from fieldkit.engine.words import say
from fieldkit.flows.diagnosing.request import read_one
from fieldkit.tables.diagnosis import base_rows, causes, judged, options, questions

#: Given a question, its answer as it was told; None for can't tell.
Teller = Callable[[str], str | float | None]

COLUMNS = ("case_id", "answers", "true_causes", "acceptable")


@dataclass(frozen=True, slots=True)
class Case:
    """One story: its answers, and which causes are right or will do."""

    id: str
    answers: Mapping[str, str | float | None]
    true_causes: frozenset[str]
    acceptable: frozenset[str]


@dataclass(frozen=True, slots=True)
class Game:
    """How one case went: causes best first, and the questions asked."""

    ranking: tuple[tuple[str, float], ...]
    asked: tuple[str, ...]

    @property
    def repair(self) -> str:
        """The likeliest repair: causes that are mended by the same work count as one."""
        shares: dict[str, float] = {}
        for cause, p in self.ranking:
            repair = causes()[cause].repair
            shares[repair] = shares.get(repair, 0.0) + p
        return max(shares, key=shares.__getitem__)


@dataclass(frozen=True, slots=True)
class Score:
    """What all games came to. ``first``, ``right_repair`` and ``in_top_three`` count true and
    acceptable causes.
    """

    cases: int
    first: int
    strictly_first: int
    right_repair: int
    in_top_three: int
    median_questions: float
    most_questions: int
    missed: tuple[str, ...]


# ── Cases told by people ─────────────────────────────────────────────────────────────────────


def read_cases(text: str) -> tuple[Case, ...]:
    """Cases from CSV text, by the names of its columns; other columns are ignored.

    Raises
    ------
    Problem
        A column is missing, or a cell names a question, an answer or a cause not known.
    """
    reader = csv.DictReader(text.splitlines())
    missing = [name for name in COLUMNS if name not in (reader.fieldnames or ())]
    if missing:
        raise Problem(
            "file",
            ", ".join(reader.fieldnames or ())[:200],
            say("The column {names} is not there.", names=", ".join(missing)),
            say("Name the columns {names}.", names=", ".join(COLUMNS)),
        )
    return tuple(_case(row) for row in reader)


def _case(row: Mapping[str, str]) -> Case:
    case = (row["case_id"] or "").strip()
    told = {}
    for pair in _parts(row["answers"]):
        question, _, value = (part.strip() for part in pair.partition("="))
        if question not in questions():
            raise Problem(
                f"{case}.answers",
                question,
                say("Case {case} answers a question that is not known.", case=case),
                say("Choose one of: {names}.", names=", ".join(questions())),
            )
        told[question] = read_one(question, value, field=f"{case}.{question}")
    return Case(case, told, _named(case, row, "true_causes"), _named(case, row, "acceptable"))


def _parts(cell: str | None) -> list[str]:
    return [part.strip() for part in (cell or "").split(";") if part.strip()]


def _named(case: str, row: Mapping[str, str], column: str) -> frozenset[str]:
    found = frozenset(_parts(row[column]))
    for one in found - causes().keys():
        raise Problem(
            f"{case}.{column}",
            one,
            say("Case {case} names a cause that is not known.", case=case),
            say("Choose one of: {names}.", names=", ".join(causes())),
        )
    return found


def play(tell: Teller, history: History = NO_HISTORY) -> Game:
    """Ask until the engine stops, and rank the causes."""
    given: dict[str, str | float | None] = {}
    while True:
        evidence = understood(given, Setting()).evidence
        belief = posterior(evidence, history)
        following = next_question(evidence, belief, asked=given)
        if following.best is None:
            return Game(tuple(ranked(belief)), tuple(given))
        question = following.best.question
        given[question] = tell(question)


def score(cases: Sequence[Case], *, blind: float = 0.0, seed: int = 0) -> Score:
    """Play every case, a share ``blind`` of its answers replaced by can't tell."""
    chance = Random(seed)  # noqa: S311  -- a repeatable draw, not a secret
    games = []
    for case in cases:
        told = {q: None if chance.random() < blind else v for q, v in case.answers.items()}
        games.append((case, play(told.get)))
    return tally(games)


def tally(games: Iterable[tuple[Case, Game]]) -> Score:
    """Count the games."""
    first = strictly = repaired = top = 0
    counts, missed = [], []
    for case, game in games:
        names = [cause for cause, _ in game.ranking]
        right = case.true_causes | case.acceptable
        strictly += names[0] in case.true_causes
        first += names[0] in right
        repaired += game.repair in {causes()[one].repair for one in right}
        top += bool(right.intersection(names[:3]))
        counts.append(len(game.asked))
        if names[0] not in right:
            missed.append(case.id)
    return Score(
        cases=len(counts),
        first=first,
        strictly_first=strictly,
        right_repair=repaired,
        in_top_three=top,
        median_questions=float(median(counts)) if counts else 0.0,
        most_questions=max(counts, default=0),
        missed=tuple(missed),
    )


# ── Failures drawn from the table ────────────────────────────────────────────────────────────


@dataclass(frozen=True, slots=True)
class Simulated:
    """Shares of drawn failures: the cause first, its repair, the cause among three; and questions.

    ``claimed`` is the mean probability given to the leader: a model that knows how sure it may
    be has it near ``first``.
    """

    draws: int
    first: float
    right_repair: float
    in_top_three: float
    mean_questions: float
    claimed: float


def simulate(
    draws: int,
    *,
    seed: int = 0,
    unknown: float = 0.15,
    wrong: float = 0.05,
    past: int | None = None,
    learns: bool = True,
) -> Simulated:
    """Draw causes and answers from the table, and play them.

    A cause comes as often as its weight, its joint and answers as often as its rows say. A share
    ``wrong`` of the answers is another option, any alike; a share ``unknown`` is can't tell, and
    so is a question that does not apply. With ``past``, causes come as often as in a company of
    its own, whose log holds so many failures found out; unless it ``learns``, that log is not
    looked at.
    """
    chance = Random(seed)  # noqa: S311  -- a repeatable draw, not a secret
    weights = [row.prior_weight for row in causes().values()]
    history: Mapping[str, int] = NO_HISTORY
    if past is not None:
        weights = [chance.gammavariate(weight / 2, 1.0) for weight in weights]
        history = Counter(chance.choices(list(causes()), weights, k=past))
    first = repaired = top = asked = 0
    claimed = 0.0
    for _ in range(draws):
        cause = chance.choices(list(causes()), weights)[0]
        told = _drawn(cause, chance, unknown=unknown, wrong=wrong)
        game = play(told.get, history if learns else NO_HISTORY)
        names = [name for name, _ in game.ranking]
        first += names[0] == cause
        repaired += game.repair == causes()[cause].repair
        top += cause in names[:3]
        asked += len(game.asked)
        claimed += game.ranking[0][1]
    return Simulated(
        draws, first / draws, repaired / draws, top / draws, asked / draws, claimed / draws
    )


@cache
def _row(cause: str, question: str, joint: str) -> tuple[float, ...]:
    allowed = fits(question, joint)
    # An option that cannot occur stays just above 0, so that tables can be fitted to it.
    judgement = judged().get((cause, question), base_rows()[question])
    row = [p if ok else 1e-9 for p, ok in zip(judgement, allowed, strict=True)]
    return tuple(p / sum(row) for p in row)


def _drawn(cause: str, chance: Random, *, unknown: float, wrong: float) -> dict[str, str | None]:
    joint = ""
    told: dict[str, str | None] = {}
    for question in dict.fromkeys((JOINT_TYPE, *questions())):
        names = [option.option_id for option in options()[question]]
        row = _row(cause, question, joint)
        at = chance.choices(range(len(names)), row)[0]
        if question == JOINT_TYPE:
            joint = names[at]
        if chance.random() < wrong:
            at = chance.choice([i for i in range(len(names)) if i != at])
        hidden = chance.random() < unknown or not is_asked_of(question, joint)
        told[question] = None if hidden else names[at]
    return told
