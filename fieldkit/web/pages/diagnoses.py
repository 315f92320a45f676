"""The diagnosis on paper, and how often its first guess was right."""

from __future__ import annotations

from flask import Blueprint, Response, render_template

from fieldkit.flows.diagnosing.paper_tree import paper_tree
from fieldkit.flows.diagnosing.questions import outcomes, weights
from fieldkit.joblog.rework import closed_joints
from fieldkit.tables.cautions import cautions
from fieldkit.web.look import joblog
from fieldkit.web.pages.common import csv_text, download

pages = Blueprint("diagnoses", __name__)

#: What the paper says first, before any question.
FIRST_ON_PAPER = ("depressurise", "stand_clear", "eyes", "backflow")


@pages.get("/paper")
def paper() -> str:
    """The decision sheet for the van: two pages at the most."""
    first = [cautions()[one].text for one in FIRST_ON_PAPER]
    return render_template("paper.html", tree=paper_tree(), first=first)


@pages.get("/diagnoses")
def show() -> str:
    """How often the first guess was right, by cause."""
    facts = [joint.facts for joint in closed_joints(joblog())]
    return render_template("diagnoses.html", table=outcomes(facts), weights=weights(facts))


@pages.get("/diagnoses.csv")
def as_csv() -> Response:
    """Each guess with what it was really, so that the weights can be improved later."""
    names = ("leak.cause", "leak.probability", "leak.really")
    rows = [
        (one.id, one.fact_times.get(names[0], ""), *(one.facts.get(name, "") for name in names))
        for one in closed_joints(joblog())
    ]
    head = ("joint", "diagnosed_at", "guess", "probability", "really")
    return download(csv_text([head, *rows]), "text/csv", "fieldkit-diagnoses.csv")
