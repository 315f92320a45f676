"""A ruler to print, which reads an outside straight off, and one on the screen beside a card."""

from __future__ import annotations

from flask import Blueprint, render_template

from fieldkit.engine.words import Figure
from fieldkit.flows.drawings.ruler import ruler_sheet

pages = Blueprint("ruler", __name__)

#: Short and long side of a bank card, ISO/IEC 7810 ID-1. [mm]
CARD_MM = (53.98, 85.60)


@pages.get("/ruler")
def show() -> str:
    """The sheet to print, and the ruler for those without paper."""
    return render_template(
        "ruler.html",
        sheet=ruler_sheet(),
        card_mm=CARD_MM,
        card=[Figure(one, "mm", 2) for one in CARD_MM],
        sources=("statics", "trade", "iso-7810", "astm-d1785"),
    )
