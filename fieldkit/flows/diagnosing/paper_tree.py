"""The diagnosis as a sheet of paper for the van: the same knowledge, asked in a fixed order.

The tree is grown by the engine. It starts from the type of joint and, one leaf at a time, splits
the leaf where a question is expected to make the first guess right most often, weighed by how
often anyone gets there, until the sheet is full. Options that lead to the same cause share a
line. So paper and program can only differ where the paper has run out of room.
"""

from __future__ import annotations

import heapq
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from itertools import count
from math import fsum

from fieldkit.engine.diagnosing.belief import JOINT_TYPE, posterior, ranked
from fieldkit.engine.diagnosing.next_question import cost, foreseen, open_questions, rise
from fieldkit.tables.diagnosis import causes, options, questions

#: So many ends fill two pages in a hand-readable size. Tried on Letter and A4.
MOST_ENDS = 52

#: Questions deep; more would be a quiz, not a sheet.
DEEPEST = 4

#: Paper asks only what can be seen, felt or counted there and then. Effort as in questions.csv.
MOST_EFFORT = 3

#: A branch that so few get to is left to the program.
SELDOM = 0.0005


@dataclass(frozen=True, slots=True)
class End:
    """Where the paper stops: the cause to look at first, the next one, and the fix in a line."""

    cause: str
    name: str
    likely: bool
    other: str
    check: str
    fix: str


@dataclass(frozen=True, slots=True)
class Way:
    """One line under a question: its options, by id and in words, and where they lead."""

    options: tuple[str, ...]
    labels: tuple[str, ...]
    to: End | Asked


@dataclass(frozen=True, slots=True)
class Asked:
    """A question on the paper."""

    question: str
    ask: str
    ways: tuple[Way, ...]


@dataclass
class _Node:
    """A leaf while the tree grows; split, it holds the nodes of each option."""

    evidence: Mapping[str, str]
    reached: float
    depth: int
    question: str = ""
    under: dict[str, _Node] = field(default_factory=dict)

    @property
    def leader(self) -> str:
        return ranked(posterior(self.evidence))[0][0]


def _options(question: str, evidence: Mapping[str, str]) -> dict[str, float]:
    """How likely each answer is, given what was answered before. [1]"""
    told = foreseen(question, evidence, posterior(evidence)).values()
    shares = [fsum(column) for column in zip(*told, strict=True)]
    total = fsum(shares)
    ids = [option.option_id for option in options()[question]]
    return {one: share / total for one, share in zip(ids, shares, strict=True)}


def _fitting_options(question: str, joint: str) -> set[str]:
    return {o.option_id for o in options()[question] if not o.only_with or joint in o.only_with}


def _best_split(node: _Node) -> tuple[float, str]:
    """The question that raises the chance of a right first guess most for its cost. [1]"""
    belief = posterior(node.evidence)
    best = (0.0, "")
    for question in open_questions(node.evidence, belief, set(node.evidence)):
        if question.effort <= MOST_EFFORT:
            gained = rise(question.id, node.evidence, belief)
            best = max(best, (gained / cost(question, node.evidence), question.id))
    return best


def _split(node: _Node, question: str) -> None:
    node.question = question
    shares = _options(question, node.evidence)
    fitting = _fitting_options(question, node.evidence[JOINT_TYPE])
    for option in fitting or set(shares):
        node.under[option] = _Node(
            {**node.evidence, question: option}, node.reached * shares[option], node.depth + 1
        )


def _ends(node: _Node) -> int:
    """Lines that end on the paper: options of one cause count once."""
    if not node.under:
        return 1
    closed = {one.leader for one in node.under.values() if not one.under}
    return len(closed) + sum(_ends(one) for one in node.under.values() if one.under)


@cache
def paper_tree() -> tuple[Way, ...]:
    """The sheet: one way a type of joint, grown until it is full."""
    roots = {
        joint: _Node({JOINT_TYPE: joint}, share, 1)
        for joint, share in _options(JOINT_TYPE, {}).items()
    }
    order = count()
    heap: list[tuple[float, int, str, _Node]] = []

    def offer(node: _Node) -> None:
        if node.depth < DEEPEST and node.reached >= SELDOM:
            gained, question = _best_split(node)
            if question and gained > 0:
                heapq.heappush(heap, (-gained * node.reached, next(order), question, node))

    for node in roots.values():
        offer(node)
    while heap and sum(_ends(root) for root in roots.values()) < MOST_ENDS:
        _, _, question, node = heapq.heappop(heap)
        _split(node, question)
        if sum(_ends(root) for root in roots.values()) > MOST_ENDS:
            node.question, node.under = "", {}
            continue
        for one in node.under.values():
            offer(one)
    labels = {option.option_id: option.label for option in options()[JOINT_TYPE]}
    return tuple(Way((joint,), (labels[joint],), _done(node)) for joint, node in roots.items())


def _done(node: _Node) -> End | Asked:
    if not node.under:
        return end_of(node.evidence)
    labels = {option.option_id: option.label for option in options()[node.question]}
    placed = [o.option_id for o in options()[node.question] if o.option_id in node.under]
    grouped: dict[str, list[str]] = {}
    ways: list[Way] = []
    for option in placed:
        under = node.under[option]
        if under.under:
            ways.append(Way((option,), (labels[option],), _done(under)))
        else:
            grouped.setdefault(under.leader, []).append(option)
    for same in grouped.values():
        first = node.under[same[0]]
        ways.append(Way(tuple(same), tuple(labels[one] for one in same), end_of(first.evidence)))
    if all(isinstance(way.to, End) for way in ways) and len(ways) == 1:
        return end_of(node.evidence)  # every answer leads to the same cause: do not ask
    return Asked(node.question, questions()[node.question].ask, tuple(ways))


def end_of(evidence: Mapping[str, str]) -> End:
    """What the program would say on these answers, in two lines."""
    order = ranked(posterior(evidence))
    first, second = causes()[order[0][0]], causes()[order[1][0]]
    return End(
        cause=first.id,
        name=first.title,
        likely=order[0][1] >= 0.5,
        other=second.title,
        check=first.check,
        fix=first.fix_steps[0],
    )


def paths(
    ways: tuple[Way, ...] | None = None,
    question: str = JOINT_TYPE,
    before: tuple[tuple[str, str], ...] = (),
) -> list[tuple[dict[str, str], End]]:
    """Every way through the paper, option by option: the answers given, and where it ends."""
    found: list[tuple[dict[str, str], End]] = []
    for way in paper_tree() if ways is None else ways:
        for option in way.options:
            path = (*before, (question, option))
            if isinstance(way.to, End):
                found.append((dict(path), way.to))
            else:
                found.extend(paths(way.to.ways, way.to.question, path))
    return found
