"""How many small faults the tests find: ``python tests/support/mutants.py [--count 100] [engine]``.

Each mutant is one change in a copy of the tree: a comparison, an operator, a number, a truth value
or a returned result. The tests nearest to its module run first, then those of its stage, and all
stop at the first that fails. What none finds is printed; look at each once: it may be the same
program in other words, or a test that is missing. Seeded, so that a run can be repeated.
"""

from __future__ import annotations

# ruff: noqa: T201  -- what it finds is printed
import argparse
import ast
import copy
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory

ROOT = Path(__file__).resolve().parents[2]
TREE = ("fieldkit", "tests", "static", "templates", "demo_jobs", "pyproject.toml", "README.md",
        "DEVELOPERS.md")  # fmt: skip

#: Longest that the tests of one mutant may take; one that hangs is found. [s]
MOST_SECONDS = 600

SWAPPED = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq, ast.In: ast.NotIn, ast.NotIn: ast.In, ast.Is: ast.IsNot,
    ast.IsNot: ast.Is, ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult,
    ast.FloorDiv: ast.Mult, ast.Mod: ast.Mult, ast.Pow: ast.Mult, ast.And: ast.Or, ast.Or: ast.And,
}  # fmt: skip


@dataclass(frozen=True)
class Mutant:
    """One change: the ``at``-th node that can be changed in ``path``."""

    path: Path
    at: int
    line: int
    was: str
    now: str


def changed(node: ast.AST) -> ast.AST | None:
    """The node with its fault, or None where there is none to make."""
    made = copy.deepcopy(node)
    match made:
        case ast.Compare() if type(made.ops[0]) in SWAPPED:
            made.ops[0] = SWAPPED[type(made.ops[0])]()
        case ast.BinOp() if type(made.op) in SWAPPED:
            made.op = SWAPPED[type(made.op)]()
        case ast.BoolOp():
            made.op = SWAPPED[type(made.op)]()
        case ast.UnaryOp(op=ast.Not()):
            return made.operand
        case ast.Constant(value=bool()):
            made.value = not made.value
        case ast.Constant(value=int()):
            made.value += 1
        case ast.Constant(value=float()):
            made.value = made.value * 1.1 if made.value else 1.0
        case ast.Return(value=ast.expr()) if not _is_none(made.value):
            made.value = ast.Constant(None)
        case _:
            return None
    return made


def _is_none(node: ast.expr | None) -> bool:
    return isinstance(node, ast.Constant) and node.value is None


def nodes(tree: ast.Module) -> Iterator[ast.AST]:
    """All that runs, in one order: no annotations, no assertions, which say what cannot be."""
    todo: list[ast.AST] = [tree]
    while todo:
        node = todo.pop()
        yield node
        for name, value in ast.iter_fields(node):
            if name in {"annotation", "returns", "decorator_list", "type_params"}:
                continue
            inner = value if isinstance(value, list) else [value]
            todo.extend(
                one for one in inner if isinstance(one, ast.AST) and not isinstance(one, ast.Assert)
            )


def mutants_of(path: Path) -> list[Mutant]:
    """Every mutant of one module."""
    found = []
    for at, node in enumerate(nodes(ast.parse(path.read_text(encoding="utf-8")))):
        made = changed(node)
        if made is not None:
            was, now = ast.unparse(node), ast.unparse(made)
            found.append(Mutant(path.relative_to(ROOT), at, node.lineno, was, now))
    return found


def write(mutant: Mutant, tree: Path) -> None:
    """Put the mutant in place of its module in the copy of the tree."""
    parsed = ast.parse((ROOT / mutant.path).read_text(encoding="utf-8"))
    target = list(nodes(parsed))[mutant.at]
    made = changed(target)

    class Swap(ast.NodeTransformer):
        def visit(self, node: ast.AST) -> ast.AST:
            return made if node is target else self.generic_visit(node)

    text = ast.unparse(ast.fix_missing_locations(Swap().visit(parsed)))
    (tree / mutant.path).write_text(text + "\n", encoding="utf-8")


def tests_of(path: Path) -> list[list[str]]:
    """Tests that touch a module, in rounds: its own first, then its stage, then its room."""
    room, *stages = path.parts[1:-1]
    tests = Path("tests") / room
    own = [str(path)]
    own += [str(p.relative_to(ROOT)) for p in (ROOT / tests).rglob(f"test_{path.stem}.py")]
    rounds = [own]
    if stages:
        folder = tests.joinpath(*stages)
        flows = Path("tests", "flows", *stages)
        near = [str(one) for one in (folder, flows) if (ROOT / one).is_dir()]
        rounds.append([*near, "tests/engine/test_working.py"] if room == "engine" else near)
    rounds.append([str(tests)])
    return [one for one in rounds if one]


def found(mutant: Mutant, tree: Path) -> bool:
    """Whether any test fails on the mutant."""
    env = os.environ | {"PYTHONPATH": str(tree), "PYTHONDONTWRITEBYTECODE": "1"}
    for paths in tests_of(mutant.path):
        run = [sys.executable, "-m", "pytest", "-x", "-q", "-p", "no:cacheprovider", *paths]
        try:
            # 5: nothing to run there.
            done = subprocess.run(
                run, cwd=tree, env=env, timeout=MOST_SECONDS, capture_output=True, check=False
            )
        except subprocess.TimeoutExpired:
            return True
        if done.returncode not in {0, 5}:
            return True
    return False


def main() -> None:
    """Sample, run, and say what was found."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("room", nargs="?", default="engine", choices=("engine", "web"))
    asked.add_argument("--count", type=int, default=100)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--only", default="", help="part of the path of the modules to change")
    given = asked.parse_args()
    modules = sorted((ROOT / "fieldkit" / given.room).rglob("*.py"))
    every = [one for path in modules if given.only in str(path) for one in mutants_of(path)]
    chance = Random(given.seed)  # noqa: S311  -- a sample that can be drawn again, not a secret
    sample = chance.sample(every, min(given.count, len(every)))
    survivors = []
    with TemporaryDirectory() as place:
        tree = Path(place)
        for name in TREE:
            source = ROOT / name
            (shutil.copytree if source.is_dir() else shutil.copy)(source, tree / name)
        if found(sample[0], tree):
            sys.exit("The tests fail without any mutant: mend that first.")
        for number, mutant in enumerate(sample, 1):
            write(mutant, tree)
            if not found(mutant, tree):
                survivors.append(mutant)
                print(f"{mutant.path}:{mutant.line}: {mutant.was}  →  {mutant.now}", flush=True)
            shutil.copy(ROOT / mutant.path, tree / mutant.path)
            if number % 10 == 0:
                print(f"  {number - len(survivors)} of {number} found", file=sys.stderr, flush=True)
    share = 1 - len(survivors) / len(sample)
    print(f"{given.room}: {share:.0%} of {len(sample)} found, of {len(every)} there are")


if __name__ == "__main__":
    main()
