"""Many answers of every calculation and flow, for what must hold for any line of working."""

from __future__ import annotations

import ast
import copy
import json
import re
from collections.abc import Iterator
from pathlib import Path
from random import Random

from fieldkit.engine.problems import Problem
from fieldkit.flows.calculations import calculate
from fieldkit.tables.formulas import formulas
from fieldkit.web.pages.api_examples import EXAMPLES

ROOT = Path(__file__).resolve().parents[2]

#: A quantity as it is typed: a plain decimal number, then its unit.
_QUANTITY = re.compile(r"(\d+(?:\.\d+)?)( .*)")
#: Keys whose text names a row of a table, not a quantity.
_NAMES = {"nominal", "class", "size", "kind", "pipe", "print_line", "from", "made_at"}


def lines_in(value: object) -> Iterator[dict[str, object]]:
    """Each line of working, however deep it lies in JSON."""
    if isinstance(value, dict):
        if {"name", "formula", "inputs", "value"} <= set(value):
            yield value
        for one in value.values():
            yield from lines_in(one)
    elif isinstance(value, list):
        for one in value:
            yield from lines_in(one)


def examples() -> Iterator[tuple[str, dict[str, object]]]:
    """Each example of the API, with the calculation that it asks."""
    for name, bodies in EXAMPLES.items():
        for body in bodies.values():
            yield name, body


def requests(name: str, count: int, seed: str) -> Iterator[dict[str, object]]:
    """Examples of one calculation with their amounts moved and some keys left out, seeded."""
    chance = Random(f"{name} {seed}")  # noqa: S311  -- repeatable requests, not a secret
    bodies = list(EXAMPLES[name].values())
    for at in range(count):
        body = copy.deepcopy(bodies[at % len(bodies)])
        for key in list(body):
            if len(body) > 2 and chance.random() < 0.12:
                del body[key]
        yield _moved(body, chance)


def _moved(value: object, chance: Random, key: str = "") -> object:
    if isinstance(value, dict):
        return {name: _moved(one, chance, name) for name, one in value.items()}
    if isinstance(value, list):
        return [_moved(one, chance, key) for one in value]
    if isinstance(value, str) and key not in _NAMES and (found := _QUANTITY.fullmatch(value)):
        if chance.random() < 0.5:
            number = float(found.group(1)) * chance.uniform(0.8, 1.25)
            return f"{number:.4g}{found.group(2)}"
        return value
    if isinstance(value, float) and chance.random() < 0.5:
        return round(value * chance.uniform(0.8, 1.25), 4)
    return value


def answers(name: str, count: int, seed: str) -> Iterator[dict[str, object]]:
    """The answers to such requests, without those that are refused."""
    for body in requests(name, count, seed):
        try:
            yield calculate(name, body).as_json()
        except Problem:
            continue


def demo_lines() -> Iterator[dict[str, object]]:
    """Each line of working that an answer of the demo keeps."""
    for path in sorted((ROOT / "demo_jobs").rglob("*.json")):
        yield from lines_in(json.loads(path.read_text(encoding="utf-8")))


def formulas_in_source() -> set[str]:
    """Each formula that the package can write, as its source has it."""
    found = {row.formula for row in formulas().values()}
    for path in (ROOT / "fieldkit").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not isinstance(node, ast.Call):
                continue
            called = node.func.id if isinstance(node.func, ast.Name) else ""
            named = [k.value for k in node.keywords if k.arg == "formula"]
            if called in {"Line", "Working", "Term"} and len(node.args) > 1:
                named.append(node.args[1])
            for one in named:
                found |= set(_literals(one))
    return found


def _literals(node: ast.expr) -> Iterator[str]:
    match node:
        case ast.Constant(value=str(text)):
            yield text
        case ast.IfExp():
            yield from _literals(node.body)
            yield from _literals(node.orelse)
        case ast.Call(func=ast.Name(id="say"), args=[first, *_]):
            yield from _literals(first)
