"""One joint: its checklist, what is known of it, and its history."""

from __future__ import annotations

from flask import Blueprint, abort, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from fieldkit.flows.catalogue import flows
from fieldkit.flows.checklist import BESIDE, next_of, standing
from fieldkit.flows.drawings.assembly import assembly_drawing
from fieldkit.flows.fact_words import TOLD_ELSEWHERE
from fieldkit.flows.facts import FACTS
from fieldkit.joblog import Entry
from fieldkit.web import clock
from fieldkit.web.idempotent import entry_id_of_form, keep_once
from fieldkit.web.ids import fresh_id
from fieldkit.web.look import joblog
from fieldkit.web.who import signature_of_asker

pages = Blueprint("joints", __name__)


@pages.get("/joint/<joint>")
def show(joint: str) -> str:
    """The checklist of one joint, with what is next, what is known, and what happened."""
    log = joblog()
    found = log.joint(joint)
    if found is None:
        abort(404)
    stages = standing(found.facts)
    opened = log.entry(joint)  # a joint goes by the id of the entry that opened it
    return render_template(
        "joint.html",
        joint=found,
        job=log.job(found.job),
        stages=stages,
        next_stage=next_of(stages),
        beside=[(title, [flows()[one] for one in ids if one in flows()]) for title, ids in BESIDE],
        flows=flows(),
        parts=assembly_drawing(assembly)
        if (assembly := found.facts.get("parts.assembly"))
        else None,
        meanings=FACTS,
        told_elsewhere=TOLD_ELSEWHERE,
        history=log.history(job_id=found.job, joint_id=joint, limit=120),
        entry=fresh_id(),
        taken_from=opened.entry.note if opened else "",
        taken=[name for name, made in found.fact_entries.items() if made == joint],
    )


@pages.post("/joint/<joint>/strike")
def strike(joint: str) -> Response:
    """Strike out a fact that is not right: a new entry; nothing is wiped."""
    log, entry_id = joblog(), entry_id_of_form()
    found = log.joint(joint)
    fact = request.form.get("fact", "")
    if found is None or fact not in FACTS:
        abort(404)
    if fact not in found.facts:  # struck out already, by the first of two taps
        return redirect(url_for("joints.show", joint=joint), 303)
    keep_once(
        log,
        Entry(
            id=entry_id,
            at=clock.now(),
            job=found.job,
            joint=joint,
            kind="strike",
            facts={fact: None},
            note=fact,
            who=signature_of_asker(),
        ),
    )
    return redirect(url_for("joints.show", joint=joint), 303)
