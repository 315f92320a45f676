"""One joint: its checklist, what is known of it, and its history."""

from __future__ import annotations

from collections.abc import Sequence

from flask import Blueprint, abort, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import say
from fieldkit.flows.catalogue import flows
from fieldkit.flows.checklist import BESIDE, next_of, standing
from fieldkit.flows.drawings.assembly import assembly_drawing
from fieldkit.flows.fact_words import TOLD_ELSEWHERE
from fieldkit.flows.facts import FACTS
from fieldkit.joblog import JobLog, JointNow, Stored
from fieldkit.joblog import move as moving
from fieldkit.web import clock
from fieldkit.web.idempotent import entry_id_of_form
from fieldkit.web.ids import fresh_id
from fieldkit.web.look import joblog
from fieldkit.web.pages.common import joint_or_404, keep_form, need_text
from fieldkit.web.who import signature_of_asker

pages = Blueprint("joints", __name__)


@pages.get("/joint/<joint>")
def show(joint: str) -> str | Response:
    """The checklist of one joint, with what is next, what is known, and what happened."""
    found = joint_or_404(joint)
    if found.moved_to and not request.args.get("here"):
        return redirect(url_for("joints.show", joint=found.moved_to), 303)
    return joint_page(found)


def joint_page(found: JointNow, problem: Problem | None = None) -> str:
    """The page of one joint, with what was typed kept when something is wrong."""
    log, joint = joblog(), found.id
    stages = standing(found.facts)
    history = log.history(job_id=found.job, joint_id=joint, limit=120)
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
        history=history,
        left_behind=_left_behind(log, history),
        jobs=[one for one in log.jobs(30, closed=False) if one.id != found.job],
        entry=fresh_id(),
        move_entry=fresh_id(),
        rename_entry=fresh_id(),
        typed=request.form,
        problem=problem,
        taken_from=opened.entry.note if opened else "",
        taken=[name for name, made in found.fact_entries.items() if made == joint],
    )


@pages.post("/joint/<joint>/strike")
def strike(joint: str) -> Response:
    """Strike out a fact that is not right: a new entry; nothing is wiped."""
    found, fact = joint_or_404(joint), request.form.get("fact", "")
    if fact not in FACTS:
        abort(404)
    if fact not in found.facts:  # struck out already, by the first of two taps
        return redirect(url_for("joints.show", joint=joint), 303)
    entry_id = entry_id_of_form()
    keep_form(entry_id, "strike", job=found.job, joint=joint, facts={fact: None}, note=fact)
    return redirect(url_for("joints.show", joint=joint), 303)


def _left_behind(log: JobLog, history: Sequence[Stored]) -> str:
    """The old place of a joint that was moved, where something came to it since."""
    for one in history:
        old = one.entry.typed.get("moved_from") if one.entry.kind == "note" else None
        place = log.joint(old[0]) if isinstance(old, list) and old else None
        if place is not None and place.last_at > one.entry.at:
            return place.id
    return ""


@pages.post("/joint/<joint>/rename")
def rename(joint: str) -> tuple[str, int] | Response:
    """Another name for the joint."""
    found = joint_or_404(joint)
    try:
        said = {"name": need_text("name", 80, say("Give the joint a name."))}
    except Problem as problem:
        return joint_page(found, problem), 422
    keep_form(entry_id_of_form(), "rename", job=found.job, joint=joint, understood=said)
    return redirect(url_for("joints.show", joint=joint), 303)


@pages.post("/joint/<joint>/move")
def move(joint: str) -> Response:
    """Move the joint to another job, all of it; where it stood leads there."""
    log, now = joblog(), clock.now()
    found, to = log.joint(joint), log.job(request.form.get("to", ""))
    if found is None or to is None or to.id == found.job:
        abort(404)
    if not found.moved_to:
        at = max(log.in_turn(found.job, now), log.in_turn(to.id, now))
        who, key = signature_of_asker(), entry_id_of_form()
        moving.move(log, found, to, at=at, who=who, key=key, received=now)
    return redirect(url_for("joints.show", joint=joint), 303)
