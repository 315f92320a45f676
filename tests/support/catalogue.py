"""Which texts there are to translate, gathered from the source; the catalogues held to them.

``python tests/support/catalogue.py`` brings the catalogues up to date: new texts come in empty,
those that nothing says any more go out, and the compiled files are made anew.
"""

from __future__ import annotations

import ast
import csv
import dataclasses
import io
import re
import string
from collections.abc import Iterator
from functools import cache
from pathlib import Path

from babel.messages import Catalog
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po
from jinja2.ext import babel_extract

from fieldkit.engine.words import Text
from fieldkit.flows.catalogue import flows
from fieldkit.flows.facts import FACTS
from fieldkit.flows.measures import METRIC_UNITS
from fieldkit.tables.fittings import joints
from fieldkit.tables.languages import languages as offered
from fieldkit.tables.load import ROW_STATUSES
from fieldkit.tables.pipes import pipes
from fieldkit.web.wording import fact_label

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = ROOT / "fieldkit"
TRANSLATIONS = PACKAGE / "translations"

#: The columns of each table that people read.
COLUMNS = {
    "cause_pairs": ("seen_as",),
    "causes": ("title", "check", "fix_steps", "parts",
               "prevent", "caution", "stop"),
    "cautions": ("text", "trade_word"),
    "stops": ("headline", "do", "call"),
    "cement_choice": ("body",),
    "fit_windows": ("label",),
    "formulas": ("name", "formula", "unit"),
    "fittings": ("name", "trade_name"),
    "gauges": ("goes", "means"),
    "hydraulics": ("what",),
    "joints": ("name", "trade_name", "ceiling_note", "undo", "how", "end_name", "steps",
               "step_whys", "depth", "nut", "push", "lock", "watch"),
    "materials": ("name",),
    "measuring_ways": ("way", "how"),
    "other_kinds": ("name",),
    "pipes": ("family_name", "note"),
    "proving_rules": ("name",),
    "question_options": ("label", "trade"),
    "questions": ("ask", "trade", "why", "hint"),
    "sources": ("title", "note"),
    "sealants": ("why_taper", "why_washer"),
    "sundries": ("name", "trade_name"),
    "thread_pairings": ("why",),
    "uncertainty": ("name",),
}  # fmt: skip

#: Columns that hold several texts, and what stands between them.
SEVERAL = {
    ("causes", "fix_steps"): " ; ",
    ("causes", "parts"): " ; ",
    ("joints", "steps"): " ; ",
    ("joints", "step_whys"): " ; ",
    ("stops", "do"): " ; ",
    ("stops", "call"): " ; ",
}

#: Texts without a word of their own whose parts stand in another order elsewhere: names of pipes.
IN_ORDER = {
    "{size} {family}",
    "{size} {family}, {od} × {bore}",
    "{size} {pipe_class} {family}",
}

#: How our templates are written.
_TEMPLATE = {"trim_blocks": "true", "lstrip_blocks": "true", "silent": "false"}

#: Calls whose literal arguments are texts, and how many of the first.
_SAYING = {"say": 1, "_": 1, "worded": 1, "problem": 2, "out_of_range": 2}
_READ_OF_A_LINE = frozenset({"name", "formula", "inputs", "value", "unit"})
#: Calls of a line of working, whose literals are texts wherever they stand but in the last two.
_WORKING = {"Line": 5, "Working": 5, "Part": 2, "assume": 2}


@cache
def gathered() -> dict[str, str]:
    """Every text, with the file that says it, in the order of the files."""
    found: dict[str, str] = {}
    for text, place in _all():
        if _has_words(text):
            found.setdefault(text, place)
    return found


def _has_words(text: str) -> bool:
    """Whether there is anything to translate: signs, figures and single symbols are not."""
    bare = (
        "".join(literal for literal, *_ in string.Formatter().parse(text)) if "{" in text else text
    )
    return bool(re.search(r"[^\W\d_]{2,}", bare)) or text in {"a", "h", "s"} | IN_ORDER


def _all() -> Iterator[tuple[str, str]]:
    for path in sorted(PACKAGE.rglob("*.py")):
        place = path.relative_to(ROOT).as_posix()
        yield from ((text, place) for text in _said_in(path.read_text(encoding="utf-8")))
    for path in sorted((ROOT / "templates").rglob("*.html")):
        place = path.relative_to(ROOT).as_posix()
        with path.open("rb") as file:
            for _, _, text, _ in babel_extract(file, ("_",), (), _TEMPLATE):
                yield text[0] if isinstance(text, tuple) else str(text), place
    for name, flow in flows().items():
        yield from ((text, f"flow {name}") for text in _texts_in(flow))
    for table, columns in COLUMNS.items():
        place = f"fieldkit/tables/{table}.csv"
        yield from ((text, place) for text in _cells(table, columns))
    for place, texts in _put_together().items():
        yield from ((text, place) for text in texts)


def _cells(table: str, columns: tuple[str, ...]) -> Iterator[str]:
    """The readable cells of a table, one text each."""
    with (PACKAGE / "tables" / f"{table}.csv").open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            for column in columns:
                yield from row[column].split(SEVERAL.get((table, column), "\0"))


def _put_together() -> dict[str, list[str]]:
    """Texts that stand nowhere as they are read: names made from several cells, and units."""
    return {
        "fieldkit/tables/pipes.csv": [pipe.name for pipe in pipes().values()],
        "fieldkit/tables/joints.csv": [kind.replace("_", " ") for kind in joints()],
        "fieldkit/flows/facts.py": [fact_label(meaning).template for meaning in FACTS.values()],
        "fieldkit/tables/load.py": list(ROW_STATUSES),
        "fieldkit/flows/measures.py": [unit for pair in METRIC_UNITS.items() for unit in pair],
    }


def _said_in(source: str) -> Iterator[str]:
    """The literals that a module says."""
    nodes = list(ast.walk(ast.parse(source)))
    assigned = _assigned(nodes)
    for node in nodes:
        if isinstance(node, ast.Call):
            for argument in _text_arguments(node):
                yield from _literals(argument)
                if isinstance(argument, ast.Name):
                    for value in assigned.get(argument.id, ()):
                        yield from _literals(value)


def _text_arguments(call: ast.Call) -> list[ast.expr]:
    """The arguments of a call that are texts, where it is one that takes any."""
    function = call.func
    name = function.attr if isinstance(function, ast.Attribute) else getattr(function, "id", "")
    if name == "Figure":
        return call.args[1:2]  # its unit
    if name == "worked":  # its figure, and its inputs: their symbols and what is put in
        given = [one for one in call.keywords if one.arg != "rests"]
        symbols: list[ast.expr] = [ast.Constant(one.arg) for one in given]
        return call.args[1:] + symbols + [one.value for one in given]
    found = call.args[: _SAYING.get(name, _WORKING.get(name, 0))]
    if name in _WORKING:
        found += [one.value for one in call.keywords if one.arg in _READ_OF_A_LINE]
    return found


def _assigned(nodes: list[ast.AST]) -> dict[str, list[ast.expr]]:
    """What a module assigns to each name: ``words = "…" if x else "…"``, then ``say(words)``."""
    found: dict[str, list[ast.expr]] = {}
    for node in nodes:
        if isinstance(node, ast.Assign):
            for target in node.targets:
                if isinstance(target, ast.Name):
                    found.setdefault(target.id, []).append(node.value)
    return found


def _literals(node: ast.AST) -> Iterator[str]:
    """The strings that an expression may come to; those inside calls of their own are not."""
    match node:
        case ast.Constant(value=str(text)):
            yield text
        case ast.IfExp(body=yes, orelse=no):
            yield from _literals(yes)
            yield from _literals(no)
        case ast.Dict(keys=keys, values=values):
            for one in (*keys, *values):
                if one is not None:
                    yield from _literals(one)
        case ast.Subscript(value=ast.Dict(values=values)):
            for one in values:
                yield from _literals(one)
        case ast.BinOp(left=left, op=ast.BitOr(), right=right):
            yield from _literals(left)
            yield from _literals(right)


def _texts_in(value: object) -> Iterator[str]:
    """The templates of the texts that a declared flow holds, however deep."""
    if isinstance(value, Text):
        yield value.template
        for part in value.parts.values():
            if isinstance(part, str):
                yield part.template if isinstance(part, Text) else part
    elif isinstance(value, tuple | list):
        for one in value:
            yield from _texts_in(one)
    elif dataclasses.is_dataclass(value) and not isinstance(value, type):
        for part in dataclasses.fields(value):
            yield from _texts_in(getattr(value, part.name))


def po_file(language: str) -> Path:
    """The catalogue of a language."""
    return TRANSLATIONS / language / "LC_MESSAGES" / "messages.po"


def languages() -> list[str]:
    """The languages that want a catalogue: every one but English."""
    return [code for code in offered() if code != "en"]


def read(language: str) -> Catalog:
    """The catalogue as it is; an empty one where none was begun."""
    if not po_file(language).exists():
        return Catalog(locale=language)
    with po_file(language).open("rb") as file:
        return read_po(file, locale=language, abort_invalid=True)


def translated(language: str) -> dict[str, str]:
    """English → that language; empty where nothing is written yet."""
    return {str(one.id): str(one.string) for one in read(language) if one.id}


def write(language: str, known: dict[str, str]) -> None:
    """The catalogue with just the texts there are, and its compiled form."""
    made = Catalog(locale=language, project="fieldkit", fuzzy=False)
    for text, place in gathered().items():
        made.add(text, known.get(text, ""), locations=[(place, None)])
    out = io.BytesIO()
    write_po(out, made, width=100, omit_header=True, include_lineno=False)
    header = (
        f'msgid ""\nmsgstr ""\n"Content-Type: text/plain; charset=utf-8\\n"\n'
        f'"Language: {language}\\n"\n\n'
    )
    po_file(language).parent.mkdir(parents=True, exist_ok=True)
    po_file(language).write_bytes(header.encode() + out.getvalue().lstrip(b"\n"))
    po_file(language).with_suffix(".mo").write_bytes(compiled(language))


class _Settled(Catalog):
    """A catalogue whose head says no day and no version, so its file depends on texts alone."""

    percent = 0

    @property
    def mime_headers(self) -> list[tuple[str, str]]:
        return [
            ("Content-Type", "text/plain; charset=utf-8"),
            ("Language", str(self.locale)),
            ("X-Translated-Percent", str(self.percent)),
        ]


def compiled(language: str) -> bytes:
    """What the compiled file must hold, byte for byte."""
    there, out = _Settled(locale=language), io.BytesIO()
    texts = [one for one in read(language) if one.id]
    for one in texts:
        there.add(one.id, one.string)
    there.percent = 100 * sum(bool(one.string) for one in texts) // (len(texts) or 1)
    write_mo(out, there)
    return out.getvalue()


if __name__ == "__main__":
    for one in languages():
        write(one, translated(one))
