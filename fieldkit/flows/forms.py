"""Reads what a step's form sent, each box in the unit that its page was labelled with.

What is typed is kept as text and stays readable in any units: a bare number from a box that was
labelled in millimetres is kept as ``17.8 mm``.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import Any

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import say
from fieldkit.flows.measures import metric_unit
from fieldkit.flows.question import (
    Choice,
    Confirm,
    Group,
    Quantity,
    Readings,
    Series,
    Several,
    Step,
    Whole,
    Words,
)
from fieldkit.flows.trade_names import refuse_trade_size
from fieldkit.typed import answers
from fieldkit.typed.units import unit_of

#: How a step's form is sent: ``value`` (one box), ``value-0``… (readings), ``value-NAME``
#: (group), ``value`` repeated (several), and the button ``answer=cant-tell``.
Form = Mapping[str, list[str]]


def read_answer(step: Step, form: Form, *, metric: bool = False) -> Any:
    """Read one step's form into a JSON value; with ``metric``, bare numbers are metric ones.

    Raises
    ------
    Problem
        What was typed cannot be understood; ``field`` names the box.
    """
    form = with_units(step, form, metric=metric)
    kind = step.kind
    match kind:
        case Quantity() | Readings() | Group() | Series():
            return _numbers(step, form, metric=metric)
        case Choice():
            given = _first(form, "value")
            if not given:
                raise Problem("value", "", say("Nothing was picked."), say("Pick one."))
            return answers.read_choice(given, [o.value for o in kind.options], field="value")
        case Several():
            allowed = [o.value for o in kind.options]
            return [
                answers.read_choice(one, allowed, field="value")
                for one in form.get("value") or []
                if one
            ]
        case Words():
            given = _first(form, "value")
            if not given:
                raise _empty(step, "value")
            return answers.read_text(given, field="value", limit=kind.limit)
        case Whole():
            given = _first(form, "value")
            if not given:
                raise _empty(step, "value", "4")
            return answers.read_whole(
                given, field="value", at_least=kind.at_least, at_most=kind.at_most
            )
        case Confirm():
            return True


#: No reading of a gauge, a thermometer or a rule at this work lies beyond these (common practice,
#: no source): a slip is asked again before it is kept, rather than when all is added up.
_MEASURED = {"psi": (0.0, 1000.0), "°F": (-60.0, 212.0), "in": (0.01, 60.0)}


def _numbers(step: Step, form: Form, *, metric: bool) -> Any:
    """One number, a list of them, or several by name.

    What was typed is read first: a wrong reading matters before an empty box.
    """
    kind = step.kind
    units = boxes(step)
    bounds = (
        dict.fromkeys(units, (kind.at_least, kind.at_most))
        if isinstance(kind, Quantity)
        else {box: _MEASURED.get(unit, (None, None)) for box, unit in units.items()}
    )
    if isinstance(kind, Quantity | Readings) and kind.outside:
        for box in units:
            refuse_trade_size(_first(form, box), box)
    read = {
        box: answers.read_quantity(
            text,
            unit,
            field=box,
            at_least=bounds[box][0],
            at_most=bounds[box][1],
            told_in=_metric(unit) if metric else unit,
        )
        for box, unit in units.items()
        if (text := _first(form, box))
    }
    match kind:
        case Readings() | Group():
            enough = len(read) >= kind.at_least
        case Series():
            enough = next(iter(units)) in read  # the others as far as they can be read
        case _:
            enough = len(read) == len(units)
    if not enough:
        empty = next(box for box in units if box not in read)
        raise _empty(step, empty, answers.example_of(units[empty]))
    if isinstance(kind, Quantity):
        return read["value"]
    if isinstance(kind, Readings):
        return list(read.values())
    return {box.removeprefix("value-"): number for box, number in read.items()}


def _first(form: Form, box: str) -> str:
    return (form.get(box) or [""])[0].strip()


def _empty(step: Step, box: str, example: object = None) -> Problem:
    instead = (
        say("Type it here, or press “{out}”.", out=step.way_out)
        if example is None
        else say(
            "Type it here, such as {example}, or press “{out}”.",
            example=example,
            out=step.way_out,
        )
    )
    return Problem(box, "", say("This box is empty."), instead)


# ── Units ────────────────────────────────────────────────────────────────────────────────────


def boxes(step: Step) -> dict[str, str]:
    """The boxes of a step's page that take a number with a unit, and the unit of each."""
    match step.kind:
        case Quantity(unit=unit):
            return {"value": unit}
        case Readings(unit=unit, labels=labels):
            return {f"value-{i}": unit for i in range(len(labels))}
        case Group(parts=parts) | Series(parts=parts):
            return {f"value-{name}": unit for name, _, unit in parts}
        case _:
            return {}


def _metric(unit: str) -> str:
    """The metric unit that a box is labelled with, as far as people can type it."""
    metric = metric_unit(unit)
    return unit if unit_of(metric) is None else metric


def with_units(step: Step, form: Form, *, metric: bool) -> dict[str, list[str]]:
    """A form that was sent, as it is to be read and kept.

    On a metric page a bare number gets the metric unit of its box; else nothing changes.

    Examples
    --------
    >>> step = Step("od", "How wide?", Quantity("in"))
    >>> with_units(step, {"value": ["17.8"]}, metric=True)
    {'value': ['17.8 mm']}
    >>> with_units(step, {"value": ["17.8"]}, metric=False)
    {'value': ['17.8']}
    """
    return _completed(step, form, _metric) if metric else dict(form)


#: A number whose one comma stands where others write a point, and what may follow: its unit.
_DECIMAL_COMMA = re.compile(r"(?P<whole>[-−+]?\d+),(?P<part>\d+)(?P<rest>[^\d.,/]*)")


def with_points(step: Step, form: Form) -> dict[str, list[str]]:
    """A form from a page whose numbers are written with a comma, each such number with a point.

    Only there is the comma clear; elsewhere ``17,3`` is asked again.

    Examples
    --------
    >>> with_points(Step("od", "How wide?", Quantity("in")), {"value": ["17,3 mm"]})
    {'value': ['17.3 mm']}
    """
    found = dict(form)
    for box in boxes(step):
        comma = _DECIMAL_COMMA.fullmatch(_first(form, box).strip())
        if comma:
            found[box] = [f"{comma['whole']}.{comma['part']}{comma['rest']}"]
    return found


def kept_with_units(step: Step, form: Form, *, metric: bool) -> dict[str, list[str]]:
    """A form from the log, as its boxes are to show it again.

    On a metric page a bare number that was kept gets the step's own unit, in which it was read.

    Examples
    --------
    >>> kept_with_units(Step("od", "How wide?", Quantity("in")), {"value": ["0.7"]}, metric=True)
    {'value': ['0.7 in']}
    """
    return _completed(step, form, lambda unit: unit) if metric else dict(form)


def _completed(step: Step, form: Form, named: Callable[[str], str]) -> dict[str, list[str]]:
    """Each bare number in a box whose metric unit is another one, with a unit behind it."""
    found = dict(form)
    for box, unit in boxes(step).items():
        typed = _first(form, box)
        if typed and _metric(unit) != unit and answers.is_bare_number(typed, unit):
            found[box] = [f"{typed} {named(unit)}"]
    return found
