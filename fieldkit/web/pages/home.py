"""The first page: start at once, or go on with a job. And the choice of light."""

from __future__ import annotations

from flask import Blueprint, current_app, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from fieldkit.engine.words import say
from fieldkit.flows.localize import localize
from fieldkit.joblog import Entry
from fieldkit.web import clock
from fieldkit.web.idempotent import keep
from fieldkit.web.ids import fresh_id, is_id
from fieldkit.web.look import LIGHT_COOKIE, joblog, known_light
from fieldkit.web.safe import local_path
from fieldkit.web.who import signature_of_asker

pages = Blueprint("home", __name__)

#: Where a joint that nobody named a job for is kept.
LOOSE_JOB_NAME = say("Joints without a job")

#: What a person can start from the first page: form value → (flow, name of the joint).
STARTS = {
    "leak": ("leak-now", say("Leaking joint")),
    "popped": ("popped-off", say("Joint that came off")),
    "failed": ("failed-test", say("Joint that failed its test")),
    "new": ("measure-pipe", say("New joint")),
    "tube": ("measure-tube", say("Tubing to name")),
    "riser": ("riser-to-tube", say("Sprinkler riser")),
}


@pages.get("/")
def show() -> str:
    """What do you have in front of you?"""
    jobs = joblog().jobs(limit=6, closed=False)
    doubted = joblog().doubted_of(job.id for job in jobs)
    return render_template("home.html", jobs=jobs, doubted=doubted, entry=fresh_id())


@pages.post("/start")
def start() -> Response:
    """Start a joint at once, in the job for loose joints, and begin its flow."""
    flow, name = STARTS.get(request.form.get("what", ""), STARTS["new"])
    given = request.form.get("entry", "")
    joint_id = given if is_id(given) else fresh_id()
    log = joblog()
    now = clock.now()
    if log.joint(joint_id) is None:
        job_id = current_app.config["LOOSE_JOB"]
        parts = {"at": now, "job": job_id, "who": signature_of_asker()}
        entries = [
            Entry(
                id=joint_id,
                joint=joint_id,
                kind="joint",
                understood={"name": localize(name)},
                **parts,
            )
        ]
        if log.job(job_id) is None:
            loose = {"name": localize(LOOSE_JOB_NAME)}
            entries.insert(0, Entry(id=job_id, kind="job", understood=loose, **parts))
        keep(log, entries, received=now)
    return redirect(url_for("steps.begin", joint=joint_id, flow=flow), 303)


@pages.post("/look")
def look() -> Response:
    """Show every page in the light that was chosen, and stay on the page."""
    back = redirect(local_path(request.form.get("back", "")), 303)
    back.set_cookie(
        LIGHT_COOKIE,
        known_light(request.form.get("light")),
        max_age=365 * 24 * 3600,
        httponly=True,
        samesite="Lax",
        secure=request.is_secure,
    )
    return back
