"""Read the CSV tables once, into frozen rows, and fail loudly on a bad cell.

A row type is a frozen dataclass whose field names are the CSV's columns. A cell is read by the
field's type: ``str``, ``int``, ``float``, ``bool`` (yes / no), each optionally ``| None`` (an
empty cell), or ``tuple[str, ...]`` (parts split on ``;``).
"""

from __future__ import annotations

import csv
import math
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, fields
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any, TypeVar, get_args, get_type_hints

Row = TypeVar("Row")

#: How sure we may be of a row; the closed list that ``fieldkit tables check`` holds.
ROW_STATUSES = ("checked", "computed", "secondary", "from memory", "common practice, no source")


class BadTable(ValueError):  # noqa: N818  -- it names the thing, as a person would
    """A cell breaks a rule. The message names file, line, column, value and rule."""

    def __init__(self, table: str, line: int, column: str, value: object, rule: str) -> None:
        super().__init__(f"{table}.csv line {line}, column {column}: {value!r} {rule}")
        self.table, self.line, self.column, self.value, self.rule = table, line, column, value, rule


#: Folders whose tables stand in for ours; see ``reading_from``.
_stand_ins: list[Path] = []


def text_of(table: str) -> str:
    """The CSV as text, from the installed package."""
    for folder in _stand_ins:
        if (folder / f"{table}.csv").is_file():
            return (folder / f"{table}.csv").read_text(encoding="utf-8-sig")
    return (files("fieldkit.tables") / f"{table}.csv").read_text(encoding="utf-8")


@contextmanager
def reading_from(folder: Path) -> Iterator[None]:
    """Read the tables in ``folder`` in place of ours: to check an edit before it is used."""
    _stand_ins.append(folder)
    _forget()
    try:
        yield
    finally:
        _stand_ins.remove(folder)
        _forget()


def _forget() -> None:
    """Empty what the table modules have cached."""
    for name, module in list(sys.modules.items()):
        if name.startswith("fieldkit.tables."):
            for held in list(vars(module).values()):
                if hasattr(held, "cache_clear"):
                    held.cache_clear()


def read_rows(table: str, row_type: type[Row], text: str | None = None) -> tuple[Row, ...]:
    """Read ``table`` into rows of ``row_type``.

    Raises
    ------
    BadTable
        A column is missing or unknown, or a cell cannot be read as its type.
    """
    hints = get_type_hints(row_type)
    names = [part.name for part in fields(row_type)]  # type: ignore[arg-type]
    reader = csv.DictReader((text_of(table) if text is None else text).splitlines())
    if list(reader.fieldnames or ()) != names:
        rule = f"must be the columns {names}"
        raise BadTable(table, 1, "header", reader.fieldnames, rule)
    rows = []
    for line, cells in enumerate(reader, start=2):
        if None in cells or None in cells.values():
            raise BadTable(table, line, "all", cells, "has too many or too few cells")
        values = {n: _cell(table, line, n, cells[n].strip(), hints[n]) for n in names}
        rows.append(row_type(**values))
    return tuple(rows)


def _cell(table: str, line: int, column: str, cell: str, kind: Any) -> Any:
    if kind == tuple[str, ...]:
        return tuple(part.strip() for part in cell.split(";") if part.strip())
    optional = type(None) in get_args(kind)
    plain_kind = get_args(kind)[0] if optional else kind
    if cell == "":
        if optional:
            return None
        if plain_kind is str:
            return ""
        raise BadTable(table, line, column, cell, "must not be empty")
    if plain_kind is bool:
        if cell not in {"yes", "no"}:
            raise BadTable(table, line, column, cell, "must be yes or no")
        return cell == "yes"
    if plain_kind in {int, float}:
        try:
            number = plain_kind(cell)
        except ValueError:
            raise BadTable(table, line, column, cell, "is not a number") from None
        if not math.isfinite(number):
            raise BadTable(table, line, column, cell, "is not a finite number")
        return number
    return cell


def check_sourced(table: str, rows: tuple[Any, ...], known_sources: frozenset[str]) -> None:
    """Each row names a source we list and a status from the closed list.

    Where a row's type lets both be None, such a row rests on a row of another table.
    """
    for line, row in enumerate(rows, start=2):
        if row.source is None and row.status is None:
            continue
        if row.status not in ROW_STATUSES:
            raise BadTable(table, line, "status", row.status, f"must be one of {ROW_STATUSES}")
        if row.source not in known_sources:
            raise BadTable(table, line, "source", row.source, "is not an id in sources.csv")


@dataclass(frozen=True, slots=True)
class Source:
    """Where numbers come from: a standard, a handbook, a trade page, or ourselves."""

    id: str
    title: str
    kind: str
    note: str


@cache
def source_rows() -> tuple[Source, ...]:
    """Every source, in the order of the file."""
    return read_rows("sources", Source)


@cache
def known_sources() -> frozenset[str]:
    """The ids in ``sources.csv``."""
    return frozenset(row.id for row in source_rows())


@cache
def source_titles() -> dict[str, str]:
    """Title of each source by its id, for the screens that show where a number comes from."""
    return {row.id: row.title for row in source_rows()}


def load(table: str, row_type: type[Row]) -> tuple[Row, ...]:
    """Read a sourced table and check source and status of each row."""
    rows = read_rows(table, row_type)
    check_sourced(table, rows, known_sources())
    return rows
