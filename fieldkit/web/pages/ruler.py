"""A ruler to print, which reads an outside straight off."""

from __future__ import annotations

from flask import Blueprint, render_template

from fieldkit.flows.drawings.ruler import ruler_sheet

pages = Blueprint("ruler", __name__)


@pages.get("/ruler")
def show() -> str:
    """The sheet to print."""
    return render_template(
        "ruler.html",
        sheet=ruler_sheet(),
        sources=("statics", "trade", "astm-d1785"),
    )
