"""The screen gauge: a bank card makes the screen a ruler, and circles on it measure a cut end."""

from __future__ import annotations

import math

from flask import Blueprint, render_template, request

from fieldkit.engine.measuring.measure import CARD_MM, doubt_of_circle
from fieldkit.engine.words import Figure
from fieldkit.web.access import may_enter
from fieldkit.web.ids import fresh_id, is_id
from fieldkit.web.look import joblog

pages = Blueprint("gauge", __name__)

_FLOWS = {"pipe": "measure-pipe", "tube": "measure-tube"}


@pages.get("/gauge")
def show() -> str:
    """The gauge; with a joint and a side of it, what it reads can be sent to measuring."""
    flow = request.args.get("flow") or _FLOWS.get(request.args.get("side", "tube"), "")
    joint = joblog().joint(request.args.get("joint", ""))
    if joint is not None and (flow not in _FLOWS.values() or not may_enter(flow)):
        joint = None
    run = request.args.get("run", "")
    fixed_in, at_one_in = doubt_of_circle(0.0), doubt_of_circle(1.0)
    return render_template(
        "gauge.html",
        joint=joint,
        flow=flow,
        run=run if is_id(run) else fresh_id(),
        entry=fresh_id(),
        card_mm=CARD_MM,
        card=[Figure(one, "mm", 2) for one in CARD_MM],
        # U at any width is √(fixed² + (share · width)²): only the fit of the card grows with it.
        fixed_mm=fixed_in * 25.4,
        share=math.sqrt(at_one_in**2 - fixed_in**2),
        u=Figure(at_one_in, "in", 2),
    )
