"""Reads a line of working as a stranger with a calculator would: sympy evaluates what it says.

A formula is an expression in the names of its inputs, such as ``P = h L / 100 × w``; what stands
after a semicolon is a remark. ``, where K = …`` defines a symbol that is no input. ``sum of``,
``mean of``, ``least of``, ``largest of`` and ``root of the sum of squares of`` take an input that
is a list, or ``these``: all inputs that are figures.

``solved for L: … = …`` holds when the figure shown is put in for L.

A line that is no formula says so in its first word, and ``FORMS`` has all of those.
"""

from __future__ import annotations

import math
import re
import statistics
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

import sympy
from sympy.parsing.sympy_parser import (
    convert_xor,
    implicit_multiplication,
    parse_expr,
    standard_transformations,
)

from fieldkit.web.look import _digits

#: First word of a line that is no formula, and what it declares.
FORMS = {
    "table": "a cell of a table that is named",
    "rule": "a fixed figure or a choice of the trade or of ours",
    "assumed": "taken because it was not given",
    "not given": "the same",
    "given": "as it was given",
    "by steps": "solved numerically; tests hold it against another program",
}

#: How many of the shown figure's parts the roundings of the inputs may leave open.
LOOSEST = 0.01

_NUMBER = re.compile(r"[-−]?[\d,]*\.?\d+(?:e[-+]?\d+)?")
_TRANSFORMATIONS = (*standard_transformations, convert_xor, implicit_multiplication)
_SIGNS = {
    "×": "*", "·": "*", "÷": "/", "−": "-", "²": "**2", "³": "**3", "⁴": "**4", "[": "(", "]": ")",
    "½": "(1/2)", "¼": "(1/4)", "π": " pi ",
}  # fmt: skip


def _median(names: list[str]) -> str:
    return f"Median({', '.join(names)})"


_OVER_MANY = {
    "root of the sum of squares of": lambda v: "sqrt(" + "+".join(f"({x})**2" for x in v) + ")",
    "sum of": lambda v: "(" + "+".join(v) + ")",
    "mean of": lambda v: "((" + "+".join(v) + f")/{len(v)})",
    "median of": _median,
    "least of": lambda v: "Min(" + ",".join(v) + ")",
    "largest of": lambda v: "Max(" + ",".join(v) + ")",
}
_KNOWN = {
    "pi": sympy.pi, "sqrt": sympy.sqrt, "tan": sympy.tan, "sin": sympy.sin, "cos": sympy.cos,
    "log10": lambda x: sympy.log(x, 10), "ln": sympy.log, "min": sympy.Min, "max": sympy.Max,
    "Median": sympy.Function("Median"), "Min": sympy.Min, "Max": sympy.Max, "Abs": sympy.Abs,
    "floor": sympy.floor, "ceiling": sympy.ceiling, "Function": sympy.Function,
    "Symbol": sympy.Symbol, "Integer": sympy.Integer, "Float": sympy.Float,
    "Rational": sympy.Rational,
}  # fmt: skip


class UnreadableError(Exception):
    """A formula that the reader cannot read, or that its inputs are not enough for."""


@dataclass(frozen=True)
class Shown:
    """A figure as it is shown: its value, and by how much rounding may have moved it."""

    value: float
    half: float


def form(formula: str) -> str | None:
    """The declared form of a line that is no formula; None of a formula."""
    words = re.split("[:;]", formula)[0]
    return words if words in FORMS else None


def shown(given: object) -> tuple[Shown, ...]:
    """The figures of an input, in order; none of one that is words."""
    if isinstance(given, bool) or given is None:
        return ()
    if isinstance(given, int):
        return (Shown(float(given), 0.0),)
    if isinstance(given, float):
        return (_one(_digits(given), given),)
    found = []
    for part in re.split(r", (?=[-−\d.])", str(given)):
        if not (match := _NUMBER.match(part)):
            return ()
        found.append(_one(match.group()))
    return tuple(found)


def _one(text: str, true: float | None = None) -> Shown:
    text = text.replace(",", "").replace("−", "-")
    value = float(text)
    digits, _, power = text.partition("e")
    half = 0.5 * 10.0 ** (int(power or 0) - len(digits.partition(".")[2]))
    return Shown(value, 0.0 if true == value or text == "0" else half)


def evaluated(formula: str, inputs: Mapping[str, object]) -> Shown:
    """What the formula gives with the inputs shown, and how much their rounding leaves open.

    Raises
    ------
    UnreadableError
        It cannot be read, or a symbol has no figure.
    """
    figures = {name: values for name, given in inputs.items() if (values := shown(given))}
    work = _compiled(formula, tuple((name, len(values)) for name, values in figures.items()))
    flat = [one for values in figures.values() for one in values]
    middle = [one.value for one in flat]
    result = float(work(*middle))
    open_by = 0.0
    for at, one in enumerate(flat):
        if one.half:
            open_by += max(
                abs(float(work(*middle[:at], one.value + side, *middle[at + 1 :])) - result)
                for side in (one.half, -one.half)
            )
    return Shown(result, open_by)


@cache
def _compiled(formula: str, sizes: tuple[tuple[str, int], ...]):
    text, *defined = formula.partition(";")[0].split(", where ")
    symbols, names = [], {}
    for name, size in sizes:
        names[name] = [f"in{len(symbols) + at}_" for at in range(size)]
        symbols += names[name]
    names["these"] = list(symbols)
    for part in reversed(", where ".join(defined).split(", ") if defined else []):
        symbol, _, meaning = part.partition(" = ")
        text = re.sub(rf"(?<!\w){re.escape(symbol)}(?!\w)", f"({meaning})", text)
    text = text.rpartition(" = ")[2]
    for words, make in _OVER_MANY.items():
        for name in sorted(names, key=len, reverse=True):
            if names[name]:
                text = re.sub(rf"{words} {re.escape(name)}(?!\w)", make(names[name]), text)
    for name in sorted((n for n in names if n != "these"), key=len, reverse=True):
        if len(names[name]) == 1:
            # A name ends where no letter follows; a figure may stand right before it.
            text = re.sub(
                rf"(?<![^\W\d]){re.escape(name)}(?![^\W²³⁴]|[₀-₉'])", f" {names[name][0]} ", text
            )
    for sign, written in _SIGNS.items():
        text = text.replace(sign, written)
    text = re.sub(r"√\s*\(", "sqrt(", text)
    text = re.sub(r"√\s*([\w.]+)", r"sqrt(\1)", text)
    text = re.sub(r"\|([^|]*)\|", r"Abs(\1)", text)
    try:
        local = {s: sympy.Symbol(s, real=True) for s in symbols}
        found = parse_expr(
            text, local_dict={**_KNOWN, **local}, global_dict={"__builtins__": {}, **_KNOWN},
            transformations=_TRANSFORMATIONS,
        )  # fmt: skip
        stray = {str(s) for s in found.free_symbols} - set(symbols)
    except Exception as error:
        raise UnreadableError(f"{formula!r} read as {text!r}: {error!r}") from error
    if stray:
        raise UnreadableError(f"{formula!r}: no figure for {sorted(stray)} in {text!r}")
    return sympy.lambdify(
        [local[s] for s in symbols],
        found,
        modules=[{"Median": lambda *v: statistics.median(v)}, "math"],
    )


def fault(line: Mapping[str, object]) -> str | None:
    """What is wrong with a line of working as JSON; None where it holds."""
    formula, value = str(line["formula"]), line["value"]
    if form(formula):
        return None
    where = f"{line['name']}: {formula} with {line['inputs']} shows {value} {line['unit']}"
    if not isinstance(value, int | float) or isinstance(value, bool):
        return f"{where}, which is no figure; say which of {', '.join(FORMS)} it is"
    inputs = dict(line["inputs"])
    try:
        if solved := re.fullmatch(r"solved for (\S+): (.*) = (.*)", formula):
            symbol, left, right = solved.groups()
            inputs[symbol] = f"{value:.9g}"
            formula, value = f"({left}) / ({right}) × {symbol}", float(value)
        found = evaluated(formula, inputs)
    except (UnreadableError, ArithmeticError, ValueError, TypeError) as error:
        return f"{where}: {error}"
    if not math.isfinite(found.value):
        return f"{where}, reads as {found.value}"
    if abs(found.value - value) > found.half * 1.05 + 2e-6 * abs(value) + 1e-9:
        return f"{where}, reads as {found.value:.7g} ± {found.half:.2g}"
    steps = "floor(" in line["formula"] or "ceiling(" in line["formula"]
    if found.half > LOOSEST * abs(value) and found.half > 0.006 and not steps:
        return f"{where}, whose inputs leave {found.half:.2g} open: show more digits"
    return None
