"""How many small faults the tests find: ``python tests/support/mutants.py [--count 100] [engine]``.

Each mutant is one change in a copy of the tree: a comparison, an operator, a number, a truth value
or a returned result. The tests are run once to see which functions each of them calls; a mutant
then meets the tests that call its function, the quickest first, up to the first that fails, and
what they miss is put before all tests of its stage. What none finds is printed; look at each once:
it may be the same program in other words, or a test that is missing. Seeded, so that a run can be
repeated; ``--reach FILE`` keeps the map of who calls what for the next run.
"""

from __future__ import annotations

# ruff: noqa: T201  -- what it finds is printed
import argparse
import ast
import copy
import json
import os
import shutil
import signal
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parents[2]
TREE = ("fieldkit", "tests", "static", "templates", "demo_jobs", "pyproject.toml", "README.md",
        "DEVELOPERS.md")  # fmt: skip

#: Tests of a room; those of the pages drive no browser here.
TESTS = {
    "engine": ["fieldkit/engine", "tests/engine", "tests/witnesses"],
    "web": ["fieldkit/web", "tests/web"],
}

#: Longest that the tests of one mutant may take; one that hangs is found. [s]
MOST_SECONDS = 600

#: What tests import that is slow to import: once, before each run is forked off.
SLOW_TO_IMPORT = ("playwright.sync_api", "sympy", "scipy.optimize", "wntr", "fluids")

#: By test, the seconds it takes and the functions it calls, each as "path:name".
Reach = dict[str, tuple[float, list[str]]]

SWAPPED = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq, ast.In: ast.NotIn, ast.NotIn: ast.In, ast.Is: ast.IsNot,
    ast.IsNot: ast.Is, ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult,
    ast.FloorDiv: ast.Mult, ast.Mod: ast.Mult, ast.Pow: ast.Mult, ast.And: ast.Or, ast.Or: ast.And,
}  # fmt: skip


@dataclass(frozen=True)
class Mutant:
    """One change: the ``at``-th node in ``path``, in the function ``within``, if in one."""

    path: Path
    at: int
    within: str
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


def name_at(node: ast.Module | ast.ClassDef, line: int) -> str:
    """The function, or method of a class, that a line is in; empty outside of all."""
    for one in node.body:
        if isinstance(one, ast.FunctionDef | ast.ClassDef) and one.lineno <= line <= one.end_lineno:
            inner = name_at(one, line) if isinstance(one, ast.ClassDef) else ""
            return f"{one.name}.{inner}" if inner else one.name * isinstance(one, ast.FunctionDef)
    return ""


def mutants_of(path: Path, tree: Path) -> list[Mutant]:
    """Every mutant of one module of the tree."""
    found = []
    parsed = ast.parse(path.read_text(encoding="utf-8"))
    for at, node in enumerate(nodes(parsed)):
        made = changed(node)
        if made is not None:
            was, now = ast.unparse(node), ast.unparse(made)
            within = name_at(parsed, node.lineno)
            found.append(Mutant(path.relative_to(tree), at, within, node.lineno, was, now))
    return found


@contextmanager
def written(mutant: Mutant, tree: Path) -> Iterator[None]:
    """The mutant in place of its module in the tree, for as long as it is tested."""
    place = tree / mutant.path
    whole = place.read_text(encoding="utf-8")
    parsed = ast.parse(whole)
    target = list(nodes(parsed))[mutant.at]
    made = changed(target)

    class Swap(ast.NodeTransformer):
        def visit(self, node: ast.AST) -> ast.AST:
            return made if node is target else self.generic_visit(node)

    text = ast.unparse(ast.fix_missing_locations(Swap().visit(parsed)))
    place.write_text(text + "\n", encoding="utf-8")
    yield
    place.write_text(whole, encoding="utf-8")


class Watch:
    """A plugin of pytest that writes down which functions of the package each test calls."""

    def __init__(self, tree: Path) -> None:
        self.package = f"{tree}/fieldkit/"
        self.skip = len(f"{tree}/")
        self.called: set[str] = set()
        self.reach: Reach = {}

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        self.called = set()
        forget()
        began = time.perf_counter()
        sys.settrace(self.enter)
        try:
            return (yield)
        finally:
            sys.settrace(None)
            self.reach[item.nodeid] = (time.perf_counter() - began, sorted(self.called))

    def enter(self, frame: Any, event: str, arg: object) -> None:
        code = frame.f_code
        if code.co_filename.startswith(self.package):
            name = code.co_qualname.partition(".<locals>")[0]
            self.called.add(f"{code.co_filename[self.skip :]}:{name}")


def forget() -> None:
    """Empty what the engine keeps by a cache, so that each test is seen to call what it uses."""
    for name, module in list(sys.modules.items()):
        if name.startswith("fieldkit.engine."):
            for kept in vars(module).values():
                if callable(clear := getattr(kept, "cache_clear", None)):
                    clear()


def forked(tests: list[str], watch: Watch | None = None, keep: Path | None = None) -> bool:
    """Whether all these tests pass, run in a process of their own up to the first that fails."""
    child = os.fork()
    if child == 0:
        signal.alarm(0 if watch else MOST_SECONDS)
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, 1)
        os.dup2(nowhere, 2)
        run = ["-x", "-q", "-p", "no:cacheprovider", "-m", "not browser", *tests]
        ended = int(pytest.main(run, plugins=[watch] if watch else None))
        if watch and keep:
            keep.write_text(json.dumps(watch.reach), encoding="utf-8")
        os._exit(ended)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 0


def tests_of(mutant: Mutant, reach: Reach) -> list[str]:
    """The tests that call the mutant's function, the quickest first.

    What runs at import belongs to the whole module.
    """
    wanted = f"{mutant.path}:{mutant.within}"
    seconds: dict[str, float] = {}
    for test, (took, calls) in reach.items():
        if any(one == wanted or (one.startswith(wanted) and not mutant.within) for one in calls):
            bare = test.partition("[")[0]
            seconds[bare] = seconds.get(bare, 0.0) + took
    return sorted(seconds, key=seconds.__getitem__)


def found(mutant: Mutant, reach: Reach) -> bool:
    """Whether any test fails on the mutant."""
    near = tests_of(mutant, reach)
    stage = mutant.path.parts[1:-1]
    places = (Path("fieldkit", *stage), Path("tests", *stage), Path("tests/flows", *stage[1:]))
    return (bool(near) and not forked(near)) or not forked(
        [str(one) for one in places if one.is_dir() and len(one.parts) > 2]
        or TESTS[mutant.path.parts[1]]
    )


def main() -> None:
    """Sample, run, and say what was found."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("room", nargs="?", default="engine", choices=("engine", "web"))
    asked.add_argument("--count", type=int, default=100)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--only", default="", help="part of the path of the modules to change")
    asked.add_argument("--reach", type=Path, help="file of the map of who calls what")
    given = asked.parse_args()
    survivors = []
    with TemporaryDirectory() as place:
        tree = Path(place)
        for name in TREE:
            source = ROOT / name
            (shutil.copytree if source.is_dir() else shutil.copy)(source, tree / name)
        modules = sorted((tree / "fieldkit" / given.room).rglob("*.py"))
        every = [one for at in modules if given.only in str(at) for one in mutants_of(at, tree)]
        chance = Random(given.seed)  # noqa: S311  -- a sample that can be drawn again, no secret
        sample = chance.sample(every, min(given.count, len(every)))
        for name in SLOW_TO_IMPORT:
            __import__(name)
        os.chdir(tree)
        sys.path.insert(0, str(tree))
        sys.dont_write_bytecode = True
        kept = given.reach or tree / "reach.json"
        if not kept.exists() and not forked(TESTS[given.room], Watch(tree), kept):
            sys.exit("The tests fail without any mutant: mend that first.")
        reach = json.loads(kept.read_text(encoding="utf-8"))
        for number, mutant in enumerate(sample, 1):
            with written(mutant, tree):
                survived = not found(mutant, reach)
            if survived:
                survivors.append(mutant)
                print(f"{mutant.path}:{mutant.line}: {mutant.was}  →  {mutant.now}", flush=True)
            if number % 10 == 0:
                print(f"  {number - len(survivors)} of {number} found", file=sys.stderr, flush=True)
        os.chdir(ROOT)
    share = 1 - len(survivors) / len(sample)
    print(f"{given.room}: {share:.0%} of {len(sample)} found, of {len(every)} there are")


if __name__ == "__main__":
    main()
