"""The nearest changes that work: a flow names what a person may vary, its engine is asked.

``Flow.refusals`` names, for each verdict that refuses (``""`` for a sentence in place of an
answer), the steps that may be varied. Each is tried from the nearest value outwards, alone, and
the first that is not refused is offered as a button.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial
from itertools import combinations, product
from math import floor, log10
from typing import TYPE_CHECKING, Any, NamedTuple

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import Figure, Text, say
from fieldkit.flows.forms import read_answer
from fieldkit.flows.question import Choice, Known, Quantity, Step, Whole
from fieldkit.flows.regulator import SETTINGS, named
from fieldkit.flows.spoken import Spoken

if TYPE_CHECKING:
    from fieldkit.flows.flow import Flow

#: Shares of what was told that are tried beside the usual answers.
_SHARES = (0.9, 0.8, 0.7, 0.6, 0.5, 0.4, 0.3, 0.2, 0.1, 1.1, 1.25, 1.5, 2.0, 3.0, 5.0)


@dataclass(frozen=True, slots=True)
class Change(Spoken):
    """A change of what was answered that gives a result: what to type, by step, and its button."""

    TEXTS = ("label",)

    label: str
    typed: tuple[tuple[str, tuple[str, ...]], ...]

    @property
    def key(self) -> str:
        """What a form names it by."""
        return "; ".join(f"{step}={','.join(typed)}" for step, typed in self.typed)


def nearest(flow: Flow, answer: Known | None, given: Known, facts: Known) -> tuple[Change, ...]:
    """For each step that may be varied after this answer, the nearest value that works.

    Where none works alone, two of them together.
    """
    verdict = "" if answer is None else str(answer.get("verdict"))
    ways: list[list[_Try]] = []
    for step_id in flow.refusals.get(verdict, ()):
        step = flow.step(step_id)
        told = given[step_id] if step_id in given else facts.get(step.fact) if step else None
        if step is None or not step.when({**facts, **given}) or (told is None and not answer):
            continue  # what nobody knows is found out, not varied
        ways.append(list(_candidates(step, told)))
    works = partial(_works, flow, given, facts, answer)
    singles = (next((one for one in tries if works(one)), None) for tries in ways)
    found = [Change(one.label, (one.typed,)) for one in singles if one is not None]
    if found:
        return tuple(found)
    thinned = [tries[:: max(1, len(tries) // _A_FEW)] for tries in ways]
    pairs = (pair for two in combinations(thinned, 2) for pair in product(*two))
    both = next((pair for pair in pairs if works(*pair)), None)
    if both is None:
        return ()
    label = say("{one}; {other}", one=both[0].label, other=both[1].label)
    return (Change(label, (both[0].typed, both[1].typed)),)


#: How many values of each of two steps are tried together.
_A_FEW = 4


class _Try(NamedTuple):
    """Another answer to a step: its button, what is typed, what that means."""

    step: str
    label: Text
    sent: str
    value: Any

    @property
    def typed(self) -> tuple[str, tuple[str, ...]]:
        """As a change types it."""
        return self.step, (self.sent,)


def _works(flow: Flow, given: Known, facts: Known, answer: Known | None, *tried: _Try) -> bool:
    """Whether there is an answer, and one that does not refuse, where the one before did."""
    changed = {**given, **{one.step: one.value for one in tried}}
    try:
        verdict = flow.work_out(flow.relevant(changed, facts), facts).verdict
    except Problem:
        return False
    return answer is None or verdict not in flow.refusals


def _candidates(step: Step, told: Any) -> Iterator[_Try]:
    """Other answers to a step, the nearest first."""
    kind, what = step.kind, step.short or step.ask

    def tried(sent: str, value: Text | Figure | str) -> _Try:
        label = say("{label}: {value}", label=what, value=value)
        return _Try(step.id, label, sent, read_answer(step, {"value": [sent]}))

    if isinstance(kind, Choice):
        ids = [one.value for one in kind.options]
        at = ids.index(told) if told in ids else 0
        for one in sorted(kind.options, key=lambda one: abs(ids.index(one.value) - at)):
            if one.value != told:
                yield tried(one.value, one.label)
    elif step.fact == "site.pressure_psi":
        for setting in SETTINGS:
            if told and setting < told:
                yield _Try(step.id, named(setting), f"{setting} psi", float(setting))
    elif isinstance(kind, Quantity | Whole):
        unit = kind.unit if isinstance(kind, Quantity) else ""
        usual = (str(one[0] if isinstance(one, tuple) else one) for one in kind.common)
        numbers = {float(read_answer(step, {"value": [one]})) for one in usual}
        if told:
            numbers |= {_rounded(told * share, unit) for share in _SHARES}
        low, high = kind.at_least, kind.at_most
        for number in sorted(numbers, key=lambda one: (abs(one - (told or 0.0)), one)):
            inside = (low is None or number >= low) and (high is None or number <= high)
            if inside and (told is None or abs(number - told) > 0.01 * abs(told)):
                yield tried(f"{number:g} {unit}".strip(), Figure(number, unit, _places(number)))


def _places(number: float) -> int:
    """Decimals that keep two digits."""
    return max(0, 1 - floor(log10(abs(number)))) if number else 0


def _rounded(number: float, unit: str) -> float:
    return float(round(number)) if not unit else round(number, _places(number))
