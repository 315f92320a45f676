"""One view asks any step of any flow, one shows any answer. Adding a flow adds nothing here."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, abort, redirect, render_template, request, url_for
from flask_wtf.csrf import CSRFError
from werkzeug.wrappers import Response

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import say
from fieldkit.engine.working import plain, tellable
from fieldkit.flows.catalogue import flows
from fieldkit.flows.checklist import next_after, standing
from fieldkit.flows.forms import Form, kept_with_units, read_answer, with_points, with_units
from fieldkit.flows.question import Known, Series, Step
from fieldkit.joblog import Entry
from fieldkit.web import clock
from fieldkit.web.csrf import check_token
from fieldkit.web.flow_run import Passage, open_passage, result_entry, save_answer
from fieldkit.web.idempotent import entry_id_of_form, keep, keep_once
from fieldkit.web.ids import fresh_id, is_id
from fieldkit.web.localize import decimal_comma, units
from fieldkit.web.look import joblog
from fieldkit.web.who import signature_of_asker

pages = Blueprint("steps", __name__, url_prefix="/joint/<joint>/<flow>")

#: Form keys that are not part of an answer.
FRAME_KEYS = frozenset({"csrf_token", "entry", "units"})


def passage_or_404(joint: str, flow: str, run: str) -> Passage:
    """The passage at this address."""
    if not is_id(run):
        abort(404)
    found = open_passage(joblog(), flow, joint, run, clock.now())
    if found is None:
        abort(404)
    return found


def here(passage: Passage, step: Step | None) -> Response:
    """On to ``step``, or to the answer when there is nothing left to ask."""
    joint, flow, run = passage.joint.id, passage.flow.id, passage.run_id
    if step is None:
        return redirect(url_for("steps.answer", joint=joint, flow=flow, run=run), 303)
    return redirect(url_for("steps.ask", joint=joint, flow=flow, run=run, step=step.id), 303)


@pages.get("")
def begin(joint: str, flow: str) -> Response:
    """Begin a flow. Nothing is stored before the first answer, so beginning again is free."""
    if flow not in flows() or joblog().joint(joint) is None:
        abort(404)
    return redirect(url_for("steps.go_on", joint=joint, flow=flow, run=fresh_id()), 303)


@pages.get("/<run>")
def go_on(joint: str, flow: str, run: str) -> Response:
    """Go on where this passage stands."""
    passage = passage_or_404(joint, flow, run)
    return here(passage, passage.next_step)


@pages.get("/<run>/<step>")
def ask(joint: str, flow: str, run: str, step: str) -> str | Response:
    """Ask one question; an answer given earlier stands in the box."""
    passage = passage_or_404(joint, flow, run)
    asked = passage.step(step)
    if asked is None:
        return here(passage, passage.next_step)
    problem = passage.trouble
    if problem is not None and problem.field != step:
        problem = None
    typed = kept_with_units(asked, passage.typed(step), metric=units() == "metric")
    return question_page(passage, asked, typed=typed, problem=problem)


@pages.post("/<run>/<step>")
def take(joint: str, flow: str, run: str, step: str) -> tuple[str, int] | Response:
    """Take one answer, or say what is wrong with it and keep what was typed."""
    passage = passage_or_404(joint, flow, run)
    asked = passage.step(step)
    if asked is None:
        return here(passage, passage.next_step)
    form = {key: request.form.getlist(key) for key in request.form if key not in FRAME_KEYS}
    if "common" in form:
        form["value"] = form.pop("common")
    elif decimal_comma():
        form = with_points(asked, form)
    # The page says in which units it was made: they may have been changed since, elsewhere.
    metric = request.form.get("units") == "metric"
    try:
        check_token()
        value = understood(asked, form, passage, metric=metric)
    except CSRFError:
        stale = Problem(
            "",
            "",
            say("This page was open too long."),
            say("What you typed is still here. Press the button once more."),
        )
        return question_page(passage, asked, typed=again(asked, form, metric), problem=stale), 422
    except Problem as problem:
        return question_page(passage, asked, typed=again(asked, form, metric), problem=problem), 422
    entry_id = entry_id_of_form()
    typed = with_units(asked, form, metric=metric)
    if value is ADDED:
        keep_once(joblog(), reading_entry(passage, asked, entry_id, typed))
        return here(passage, asked)
    key = "enough" if form.get("answer") == ["enough"] else step
    after = save_answer(
        joblog(),
        passage,
        key,
        entry_id=entry_id,
        typed=typed,
        value=value,
        who=signature_of_asker(),
    )
    if after.trouble is not None:
        return here(after, after.step(after.trouble.field))
    return here(after, after.next_step)


def again(step: Step, form: Form, metric: bool) -> Form:
    """What was typed, as a page in the units of now shows it again; ``metric`` tells of then."""
    now = units() == "metric"
    if now == metric:
        return form
    return kept_with_units(step, with_units(step, form, metric=metric), metric=now)


#: A reading was added to a series; the step is not finished yet.
ADDED = object()


def understood(step: Step, form: Form, passage: Passage, *, metric: bool) -> Any:
    """What the form says: a value, None for "can't tell", or ADDED for one more reading.

    Raises
    ------
    Problem
        What was typed cannot be understood.
    """
    button = (form.get("answer") or [""])[0]
    if button == "cant-tell" and step.cant_tell:
        return None
    if button == "enough":
        return True
    if isinstance(step.kind, Series):
        if button == "finish":
            readings = passage.readings(step.id)
            if len(readings) < step.kind.at_least:
                raise Problem(
                    f"value-{step.kind.parts[0][0]}",
                    "",
                    say(
                        "{n} readings so far; {least} are needed.",
                        n=len(readings),
                        least=step.kind.at_least,
                    ),
                    say("Add another reading first."),
                )
            return readings
        read_answer(step, form, metric=metric)
        return ADDED
    return read_answer(step, form, metric=metric)


def reading_entry(passage: Passage, step: Step, entry_id: str, typed: Form) -> Entry:
    """The entry that saves one reading of a series, with its own time and its unit."""
    return passage.entry(
        entry_id,
        "reading",
        step=step.id,
        typed=dict(typed),
        understood={"at": passage.now, **read_answer(step, typed)},
        who=signature_of_asker(),
    )


def question_page(
    passage: Passage, step: Step, *, typed: Known | None, problem: Problem | None
) -> str:
    """The page that asks ``step``."""
    return render_template(
        "question.html",
        passage=passage,
        step=step,
        kind=type(step.kind).__name__.lower(),
        typed=typed or {},
        problem=problem,
        entry=fresh_id(),
        number=len(passage.given) + (0 if step.id in passage.given else 1),
        last_step=last_answered(passage, step),
    )


def last_answered(passage: Passage, step: Step) -> str | None:
    """The step answered before this one, for the way back."""
    ids = list(passage.given)
    if step.id in ids:
        ids = ids[: ids.index(step.id)]
    return ids[-1] if ids else None


@pages.get("/<run>/answer")
def answer(joint: str, flow: str, run: str) -> tuple[str, int] | str | Response:
    """What a passage came to, as the log keeps it."""
    passage = passage_or_404(joint, flow, run)
    kept = passage.run.result if passage.run else None
    if passage.trouble is not None:
        return render_template("stuck.html", passage=passage, problem=passage.trouble), 422
    if kept is None or kept.result is None:
        if passage.next_step is not None:
            return here(passage, passage.next_step)
        return render_template("all_known.html", passage=passage, entry=fresh_id())
    told = tellable(kept.result)
    return render_template(
        "answer.html",
        passage=passage,
        kept=kept,
        answer=told,
        blocks=passage.flow.blocks(told),
        picked=passage.run.pick.understood if passage.run and passage.run.pick else "",
        next_stage=next_after(passage.flow.id, passage.flow.then, standing(passage.facts)),
        entry=fresh_id(),
    )


@pages.post("/<run>/answer")
def work_out(joint: str, flow: str, run: str) -> Response:
    """Work out a passage that has nothing to ask, since the log knows it all."""
    check_token()
    passage = passage_or_404(joint, flow, run)
    entry_id = entry_id_of_form()
    done = passage.run is not None and passage.run.result is not None
    if passage.next_step is None and passage.trouble is None and not done:
        keep(
            joblog(),
            [result_entry(passage, entry_id, signature_of_asker())],
            received=passage.now,
        )
    return here(passage, passage.next_step)


@pages.post("/<run>/pick")
def pick(joint: str, flow: str, run: str) -> Response:
    """Take the card that was chosen on the answer page."""
    check_token()
    passage = passage_or_404(joint, flow, run)
    kept = passage.run.result if passage.run else None
    if kept is None or kept.result is None or passage.flow.pick is None:
        abort(404)
    chosen = request.form.get("pick", "")[:200]
    learned = passage.flow.pick(kept.result, chosen)
    entry_id = entry_id_of_form()
    entry = passage.entry(
        entry_id, "pick", understood=chosen, facts=plain(learned), who=signature_of_asker()
    )
    keep_once(joblog(), entry, passage.run.pick if passage.run else None)
    return redirect(url_for("joints.show", joint=passage.joint.id), 303)
