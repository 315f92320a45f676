"""The nearest changes that work: a flow names what a person may vary, its engine is asked.

``Flow.refusals`` names, for each verdict that refuses (``""`` for a sentence in place of an
answer), the steps that may be varied. Each is tried from the nearest value outwards, alone, and
the first that is not refused is offered as a button. Where none works alone, two or three of
them do together, on one button. Where those do not either, ``Flow.otherwise`` says so.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from itertools import combinations, islice, product
from math import floor, inf, log10
from typing import TYPE_CHECKING, Any, NamedTuple

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import Figure, Text, join, say
from fieldkit.engine.working import Answer
from fieldkit.flows.forms import read_answer
from fieldkit.flows.question import Choice, Known, Quantity, Several, Step, Whole
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

    Where none works alone, the fewest of them together.
    """
    verdict = "" if answer is None else str(answer.get("verdict"))
    ways: list[list[_Try]] = []
    for step in map(flow.step, flow.refusals.get(verdict, ())):
        if step is None or not step.when({**facts, **given}):
            continue
        told = given.get(step.id, facts.get(step.fact))
        if told is not None or answer:  # what nobody knows is found out, not varied
            ways.append(list(_candidates(flow, step, told)))
    works = partial(_works, flow, given, facts, answer)
    singles = (next((one for one in tries if works(one)), None) for tries in ways)
    found: list[tuple[_Try, ...]] = [(one,) for one in singles if one is not None]
    if not found:
        together = _together(ways, works)
        found = [together] if together else []
    return tuple(_change(flow, tries, works(*tries)) for tries in found)


class _Try(NamedTuple):
    """Another answer: what it varies, its button, what is typed and understood, by step."""

    what: str
    label: Text
    typed: tuple[tuple[str, tuple[str, ...]], ...]
    values: dict[str, Any]


#: How many combinations are tried before it is said that none works.
_MOST = 300


def _together(
    ways: list[list[_Try]], works: Callable[..., Answer | None]
) -> tuple[_Try, ...] | None:
    """The fewest tries that work together, each then taken back as near as it goes.

    What fails alone is tried at the ends of what may be varied first: who comes to what is near
    from there asks the engine a tenth as often as who begins there.
    """
    chosen = (steps for n in (2, 3) for steps in combinations([way for way in ways if way], n))
    ends = (
        (steps, tries)
        for steps in chosen
        for tries in product(*(_ends(way) for way in steps))
        if len({one.what for one in tries}) == len(tries)
    )
    for steps, tries in islice(ends, _MOST):
        if works(*tries):
            settled = list(tries)
            for n, way in enumerate(steps):
                others = [*settled[:n], *settled[n + 1 :]]
                settled[n] = next((one for one in way if works(one, *others)), settled[n])
            return tuple(settled)
    return None


def _ends(way: list[_Try]) -> list[_Try]:
    """Of a few answers all; of numbers the least and the greatest."""
    if len(way) <= _FEW:
        return way
    numbers = sorted(way, key=lambda one: next(iter(one.values.values())))
    return [numbers[0], numbers[-1]]


_FEW = 4


def _change(flow: Flow, tries: tuple[_Try, ...], answer: Answer | None) -> Change:
    """The button of tries that work, with how many ways they open where the flow counts them."""
    label = join((one.label for one in tries), "; ")
    ways = flow.ways(answer) if flow.ways is not None and answer is not None else 0
    if ways == 1:
        label = say("{change}: 1 way", change=label)
    elif ways:
        label = say("{change}: {n} ways", change=label, n=ways)
    return Change(label, tuple(typed for one in tries for typed in one.typed))


def _works(
    flow: Flow, given: Known, facts: Known, answer: Known | None, *tried: _Try
) -> Answer | None:
    """The answer that there is then, if one: not one that refuses where the one before did."""
    changed = {**given}
    for one in tried:
        changed |= one.values
    try:
        found = flow.work_out(flow.relevant(changed, facts), facts)
    except Problem:
        return None
    return found if answer is None or found.verdict not in flow.refusals else None


def _candidates(flow: Flow, step: Step, told: Any) -> Iterator[_Try]:
    """Other answers to a step, the nearest first."""
    kind = step.kind
    if step.fact == "site.pressure_psi" or step.id == "regulator":
        yield from _regulators(flow, step, told)
    elif isinstance(kind, Choice):
        ids = [one.value for one in kind.options]
        at = ids.index(told) if told in ids else 0
        for one in sorted(kind.options, key=lambda one: abs(ids.index(one.value) - at)):
            if one.value != told:
                yield _tried(step, one.value, one.label)
    elif isinstance(kind, Several):
        for one in kind.options:
            if one.value in (told or ()):
                left = [other for other in told if other != one.value]
                label = say("Without “{want}”", want=one.label)
                yield _Try(step.id, label, ((step.id, tuple(left)),), {step.id: left})
    elif isinstance(kind, Quantity | Whole):
        unit = kind.unit if isinstance(kind, Quantity) else ""
        for number in _numbers(step, kind, unit, told):
            shown = Figure(number, unit, _places(number))
            yield _tried(step, f"{number:g} {unit}".strip(), shown)


def _tried(step: Step, sent: str, value: Text | Figure | str) -> _Try:
    what = step.short or step.ask
    asked = str(what).endswith("?")
    label = join((what, value), " ") if asked else say("{label}: {value}", label=what, value=value)
    read = read_answer(step, {"value": [sent]})
    return _Try(step.id, label, ((step.id, (sent,)),), {step.id: read})


def _numbers(step: Step, kind: Quantity | Whole, unit: str, told: float | None) -> Iterator[float]:
    """The usual answers and shares of what was told, within what the step takes."""
    usual = (str(one[0] if isinstance(one, tuple) else one) for one in kind.common)
    numbers = {float(read_answer(step, {"value": [one]})) for one in usual}
    if told:
        numbers |= {_rounded(told * share, unit) for share in _SHARES}
    low = -inf if kind.at_least is None else kind.at_least
    high = inf if kind.at_most is None else kind.at_most
    for number in sorted(numbers, key=lambda one: (abs(one - (told or 0.0)), one)):
        if low <= number <= high and (told is None or abs(number - told) > 0.01 * abs(told)):
            yield number


def _regulators(flow: Flow, step: Step, told: Any) -> Iterator[_Try]:
    """The regulators that make less of a pressure, the highest first.

    In a flow that also asks for the tubing's regulator, one before all else is said to be that;
    where that is answered by a change only, it is answered along.
    """
    beside = flow.step("regulator") if step.id != "regulator" else None
    along = beside is not None and not beside.when({})
    for setting in SETTINGS:
        if told is not None and setting >= told:
            continue
        name = named(setting)
        if beside is not None and not along:
            name = say("{change} at the supply", change=name)
        steps = (step.id, "regulator") if along else (step.id,)
        typed = tuple((one, (f"{setting} psi",)) for one in steps)
        yield _Try("regulator", name, typed, dict.fromkeys(steps, float(setting)))


def _places(number: float) -> int:
    """Decimals that keep two digits."""
    return max(0, 1 - floor(log10(abs(number)))) if number else 0


def _rounded(number: float, unit: str) -> float:
    return float(round(number)) if not unit else round(number, _places(number))
