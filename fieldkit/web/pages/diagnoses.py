"""The diagnosis on paper, and how often its first guess was right."""

from __future__ import annotations

import csv
import io

from flask import Blueprint, Response, render_template

from fieldkit.flows.diagnosing.paper_tree import paper_tree
from fieldkit.flows.diagnosing.questions import outcomes
from fieldkit.joblog import JointNow
from fieldkit.tables.cautions import cautions
from fieldkit.web.look import joblog

pages = Blueprint("diagnoses", __name__)

#: What the paper says first, before any question.
FIRST_ON_PAPER = ("depressurise", "stand_clear", "eyes", "backflow")


@pages.get("/paper")
def paper() -> str:
    """The decision sheet for the van: two pages at the most."""
    first = [cautions()[one].text for one in FIRST_ON_PAPER]
    return render_template("paper.html", tree=paper_tree(), first=first)


def closed_joints() -> list[JointNow]:
    """The joints whose failure was diagnosed and found out, invented ones left out."""
    log = joblog()
    found = log.joints_knowing("leak.really")
    jobs = {one: log.job(one) for one in {joint.job for joint in found}}
    invented = {one for one, job in jobs.items() if job is not None and job.demo}
    return [joint for joint in found if joint.job not in invented]


@pages.get("/diagnoses")
def show() -> str:
    """How often the first guess was right, by cause."""
    table = outcomes(joint.facts for joint in closed_joints())
    return render_template("diagnoses.html", table=table)


@pages.get("/diagnoses.csv")
def as_csv() -> Response:
    """Each guess with what it was really, so that the weights can be improved later."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(("joint", "diagnosed_at", "guess", "probability", "really"))
    for joint in closed_joints():
        facts = joint.facts
        writer.writerow(
            (
                joint.id,
                joint.fact_times.get("leak.cause", ""),
                facts.get("leak.cause", ""),
                facts.get("leak.probability", ""),
                facts.get("leak.really", ""),
            )
        )
    response = Response(out.getvalue(), mimetype="text/csv")
    response.headers["Content-Disposition"] = 'attachment; filename="fieldkit-diagnoses.csv"'
    return response
