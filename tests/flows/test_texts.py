"""Texts that flows show are marked where they stand, so that none is missing in the catalogue."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

import fieldkit.flows
from fieldkit.engine.words import Figure, Text
from fieldkit.flows.catalogue import flows
from fieldkit.flows.measures import metric_figure, metric_unit
from fieldkit.flows.question import Quantity
from fieldkit.flows.reference import SHEETS

MODULES = sorted(Path(next(iter(fieldkit.flows.__path__))).glob("*.py"))
BLOCKS = {
    *("Facts", "FactRows", "Steps", "Table", "Card", "Cards", "Notes", "Clock", "Drawing"),
    *("in_order", "Sheet"),
}
#: Not words for people.
SILENT = {"id", "pick", "svg", "folded"}


def name_of(call: ast.Call) -> str:
    return call.func.attr if isinstance(call.func, ast.Attribute) else getattr(call.func, "id", "")


def bare_literals(node: ast.AST) -> Iterator[ast.AST]:
    """Strings with letters that stand in ``node`` as they are, not inside another call."""
    match node:
        case ast.Constant(value=str() as text) if any(one.isalpha() for one in text):
            yield node
        case ast.JoinedStr():
            yield node
        case ast.Call():
            if name_of(node) in {*BLOCKS, "tuple"}:
                first = 1 if name_of(node) == "Sheet" else 0
                for part in node.args[first:]:
                    yield from bare_literals(part)
                for word in node.keywords:
                    if word.arg not in SILENT:
                        yield from bare_literals(word.value)
        case ast.Tuple(elts=parts) | ast.List(elts=parts):
            for part in parts:
                yield from bare_literals(part)
        case ast.GeneratorExp(elt=part) | ast.ListComp(elt=part) | ast.Starred(value=part):
            yield from bare_literals(part)
        case ast.IfExp():
            yield from bare_literals(node.body)
            yield from bare_literals(node.orelse)


@pytest.mark.parametrize("path", MODULES, ids=lambda path: path.stem)
def test_a_block_is_given_texts_and_no_bare_strings(path: Path) -> None:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    calls = (
        call for call in ast.walk(tree) if isinstance(call, ast.Call) and name_of(call) in BLOCKS
    )
    found = [
        f"{path.name}:{getattr(one, 'lineno', 0)}" for call in calls for one in bare_literals(call)
    ]
    assert not found


def figures(text: object) -> Iterator[Figure]:
    """The figures of a text, however deep."""
    if isinstance(text, Figure):
        yield text
    elif isinstance(text, Text):
        for part in text.parts.values():
            yield from figures(part)
    elif isinstance(text, tuple):
        for part in text:
            yield from figures(part)


def test_pocket_tables_show_a_metric_reader_no_inches() -> None:
    """Trade sizes are names, and stay; what is measured does not."""
    shown = [figure for make in SHEETS.values() for figure in figures(make().parts)]
    assert len(shown) > 100
    assert {metric_figure(figure).unit for figure in shown} & {"in", "psi", "°F"} == set()


def test_every_button_that_says_a_plain_figure_can_say_it_in_metric_units() -> None:
    labels = [
        label
        for flow in flows().values()
        for step in flow.steps
        # A count, such as turns, is the same number everywhere.
        if isinstance(step.kind, Quantity) and metric_unit(step.kind.unit) != step.kind.unit
        for _, label in step.kind.common
    ]
    said = [label for label in labels if label.replace(".", "", 1).isdigit()]
    assert labels
    assert not said
