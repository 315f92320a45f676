"""``fieldkit tables check``: every row of every table, against the rules that it must keep."""

from __future__ import annotations

import pkgutil
from collections.abc import Iterator
from contextlib import nullcontext
from dataclasses import fields
from importlib import import_module
from importlib.resources import files
from pathlib import Path
from types import ModuleType

import click

import fieldkit.tables
from fieldkit.cli.common import Stop
from fieldkit.tables.load import (
    BadTable,
    Source,
    check_sourced,
    known_sources,
    read_rows,
    reading_from,
)


@click.group("tables")
def tables_command() -> None:
    """The tables that every number comes from."""


@tables_command.command("check")
@click.option(
    "--from",
    "folder",
    type=click.Path(exists=True, file_okay=False, path_type=Path),
    help="Check edited CSV files in this folder in place of ours, before they are used.",
)
def check_command(folder: Path | None) -> None:
    """Check every table and print its count of rows.

    A wrong cell is named by file, line, column, value and rule, with exit status 2.
    """
    modules = table_modules()
    known = {"sources", *(name for module in modules for name in module.TABLES)}
    if folder is not None:
        edited = {path.stem for path in folder.glob("*.csv")}
        if stray := sorted(edited - known):
            raise Stop(f"fieldkit has no table called {', '.join(stray)}. Rename or remove it.")
        if not edited:
            raise Stop(f"There are no CSV files in {folder}. Put the edited tables there.")
        click.echo(f"From {folder}: {', '.join(sorted(edited))}. The others are ours.")
    if unread := sorted(csv_names() - known):
        raise Stop(f"No module lists the table {', '.join(unread)}, so it is never checked.")
    rows = 0
    try:
        with nullcontext() if folder is None else reading_from(folder):
            for table, count in checked(modules):
                click.echo(f"{count:6} rows  {table}")
                rows += count
    except BadTable as bad:
        raise Stop(str(bad)) from bad
    click.echo(f"{rows:6} rows, and every one keeps the rules.")


def csv_names() -> set[str]:
    """The tables that lie in the package."""
    return {
        file.name.removesuffix(".csv")
        for file in files(fieldkit.tables).iterdir()
        if file.name.endswith(".csv")
    }


def table_modules() -> list[ModuleType]:
    """The modules of ``fieldkit.tables`` that list tables."""
    found = [
        import_module(f"fieldkit.tables.{module.name}")
        for module in pkgutil.iter_modules(fieldkit.tables.__path__)
    ]
    return [module for module in found if hasattr(module, "TABLES")]


def checked(modules: list[ModuleType]) -> Iterator[tuple[str, int]]:
    """Each table with its count of rows, as it is found good.

    Raises
    ------
    BadTable
        A cell breaks a rule.
    """
    yield "sources", len(read_rows("sources", Source))
    for module in modules:
        for table, row_type in module.TABLES.items():
            if table == "sources":
                continue
            rows = read_rows(table, row_type)
            if {"source", "status"} <= {part.name for part in fields(row_type)}:
                check_sourced(table, rows, known_sources())
            yield table, len(rows)
        # Rules that look across rows and tables.
        if hasattr(module, "check"):
            module.check()
