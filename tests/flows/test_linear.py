"""No expression that reads what people type takes more than its share of a longer text.

The expressions are found in the source, each is fed what makes the bad ones slow, and four times
as much must not take sixteen times as long. What each reader takes at its limit stands in
``tests/bench/test_bench_typed.py``.
"""

from __future__ import annotations

import ast
import re
import time
from itertools import product
from pathlib import Path

import pytest

import fieldkit

_ROOT = Path(fieldkit.__file__).parent

#: These read what we wrote ourselves: our pages, drawings and packages.
_OWN = {"web/paper.py", "phone/kit.py", "phone/pack.py", "web/pages/api_document.py"}

#: Runs of these, with and without an end that does not fit.
_RUNS = (
    "9", " ", "a", "A", "-", ".", ",", "0", "_", "é", "1/", "1 ", "9.", "9,", "9-", ",999",
    "1 1", "ASTM", "ASTM-", "NSF ", "NEMA ", "SDR", "SDR ", "PE9", "PE ", "9 MM", "9IN ",
    "OD ", "0.70", "0.70 ", "1-1/2 ", "\"", "{a", "{", "in ", " in", "per ", " per ", "tape",
    "1\n", "<", "[", "a/", "x-", "0x", "9GPH", "9 SPACING", "SCHEDULE ", "CLASS ", "e9", "1e",
    "+-",
)  # fmt: skip
_ENDS = ("", "!", "\n")

_FEW, _MANY = 1500, 6000
#: A quadratic one takes sixteen times as long, a linear one four.
_MOST = 10


_METHODS = ("search", "match", "fullmatch", "sub", "findall", "split")


def methods_of(node: ast.Call, source: str) -> tuple[str, ...]:
    """How an expression is used: by its own call, or by the name that a compiled one has."""
    if node.func.attr != "compile":
        return (node.func.attr,)
    line = source.splitlines()[node.lineno - 1]
    name = line.partition(" =")[0] if line.startswith("_") else "nothing"
    used = re.findall(rf"\b{re.escape(name)}\.({'|'.join(_METHODS)})\(", source)
    return tuple(sorted(set(used))) or ("search",)


def patterns() -> list[tuple[str, str, tuple[str, ...]]]:
    """Every expression that stands in the source: where, itself, how it is used."""
    found = []
    for path in sorted(_ROOT.rglob("*.py")):
        where = path.relative_to(_ROOT).as_posix()
        if where in _OWN:
            continue
        text = path.read_text(encoding="utf-8")
        for node in ast.walk(ast.parse(text)):
            if (
                isinstance(node, ast.Call)
                and isinstance(node.func, ast.Attribute)
                and isinstance(node.func.value, ast.Name)
                and node.func.value.id == "re"
                and node.args
                and isinstance(node.args[0], ast.Constant)
                and isinstance(node.args[0].value, str)
            ):
                found.append((where, node.args[0].value, methods_of(node, text)))
    return found


def seconds(pattern: re.Pattern[str], method: str, text: str, times: int = 1) -> float:
    """The least that using the expression on a text takes."""
    use = getattr(pattern, method)
    given = (" ", text) if method == "sub" else (text,)
    best = 1e9
    for _ in range(times):
        began = time.thread_time()
        use(*given)
        best = min(best, time.thread_time() - began)
    return best


@pytest.mark.parametrize(("where", "source", "methods"), patterns())
def test_four_times_the_text_takes_no_sixteen_times_as_long(where, source, methods):
    pattern = re.compile(source)
    for run, end, method in product(_RUNS, _ENDS, methods):
        few, many = ((run * n)[:n] + end for n in (_FEW, _MANY))
        if seconds(pattern, method, many) < 0.003:  # nothing to compare, and nothing to fear
            continue
        long, short = seconds(pattern, method, many, 3), seconds(pattern, method, few, 3)
        assert long < _MOST * short, (where, source, method, run, end, long)


def test_the_check_finds_a_slow_one():
    with pytest.raises(AssertionError):
        test_four_times_the_text_takes_no_sixteen_times_as_long("here", r"\d+X", ("search",))
