"""Pocket tables to look things up, and the list of sources behind every number."""

from __future__ import annotations

from functools import cache

from flask import Blueprint, abort, render_template

from fieldkit.flows.reference import SHEETS, Sheet
from fieldkit.tables.load import source_rows

pages = Blueprint("pocket", __name__)


@cache
def sheet_of(sheet_id: str) -> Sheet:
    """One pocket table; the rows never change while the program runs."""
    return SHEETS[sheet_id]()


@pages.get("/tables")
def show() -> str:
    """The index of the pocket tables."""
    return render_template("pocket.html", sheets=[sheet_of(one) for one in SHEETS])


@pages.get("/tables/<sheet_id>")
def sheet(sheet_id: str) -> str:
    """One table."""
    if sheet_id not in SHEETS:
        abort(404)
    return render_template("sheet.html", sheet=sheet_of(sheet_id))


@pages.get("/sources")
def sources() -> str:
    """Where the numbers come from."""
    return render_template("sources.html", sources=source_rows())
