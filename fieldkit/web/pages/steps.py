"""One view asks any step of any flow, one shows any answer. Adding a flow adds nothing here."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from flask import Blueprint, abort, g, redirect, render_template, request, url_for
from flask_wtf.csrf import CSRFError
from werkzeug.wrappers import Response

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import say
from fieldkit.engine.working import Answer, tellable, to_json
from fieldkit.flows.catalogue import flows
from fieldkit.flows.checklist import next_after, standing
from fieldkit.flows.flow import Onward
from fieldkit.flows.forms import Form, kept_with_units, read_answer, with_points, with_units
from fieldkit.flows.nearest import Change
from fieldkit.flows.question import Confirm, Known, Series, Several, Step
from fieldkit.joblog import Entry
from fieldkit.web import clock
from fieldkit.web.csrf import check_token
from fieldkit.web.flow_run import Given, Passage, open_passage, result_entry, save_answers
from fieldkit.web.idempotent import entry_id_of_form, keep, keep_once
from fieldkit.web.ids import following_id, fresh_id, is_id
from fieldkit.web.localize import decimal_comma, units
from fieldkit.web.look import joblog
from fieldkit.web.wording import lower_first

pages = Blueprint("steps", __name__, url_prefix="/joint/<joint>/<flow>")

#: Form keys that are not part of an answer.
FRAME_KEYS = frozenset({"csrf_token", "entry", "units"})

#: Said of a page whose token is too old.
OLD = Problem(
    "",
    "",
    say("This page was open too long."),
    say("What you typed is still here. Press the button once more."),
)


def passage_or_404(joint: str, flow: str, run: str) -> Passage:
    """The passage at this address."""
    if not is_id(run):
        abort(404)
    found = open_passage(joblog(), flow, joint, run, clock.now())
    if found is None:
        abort(404)
    if found.run is not None and found.run.entries:
        g.saved_here = found.run.entries[-1].entry.id  # a caution that was seen before it is folded
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
    asked = passage.flow.step(step)
    if asked is None:
        return here(passage, passage.next_step)
    trouble = passage.doomed
    problems = {step: trouble} if trouble is not None and trouble.field == step else {}
    typed = {
        one.id: kept_with_units(
            one,
            passage.typed(one.id) or one.proposed(passage.facts),
            metric=units() == "metric",
        )
        for one in passage.page(asked)
    }
    return question_page(passage, asked, typed=typed, problems=problems)


@pages.post("/<run>/<step>")
def take(joint: str, flow: str, run: str, step: str) -> tuple[str, int] | Response:
    """Take one answer, or say what is wrong with it and keep what was typed."""
    passage = passage_or_404(joint, flow, run)
    asked = passage.flow.step(step)
    if asked is None:
        return here(passage, passage.next_step)
    form = {key: request.form.getlist(key) for key in request.form if key not in FRAME_KEYS}
    if "common" in form:
        form["value"] = form.pop("common")
    # The page says in which units it was made: they may have been changed since, elsewhere.
    metric = request.form.get("units") == "metric"
    if isinstance(asked.kind, Series):
        done = at_series(passage, asked, form, metric)
        if done is not None:
            return done
    sent = [Sent(one, part, metric) for one, part in forms_of(passage, asked, form)]
    answers, wrong = answers_of(passage, sent, enough=form.get("answer") == ["enough"])
    try:
        check_token()
    except CSRFError:
        wrong = {step: OLD}
    if wrong:
        typed = {one.step.id: again(one.step, one.form, metric) for one in sent}
        return question_page(passage, asked, typed=typed, problems=wrong), 422
    if any(one.value is ADDED for one in answers):  # a series stands alone on its page
        keep_once(joblog(), reading_entry(passage, sent[0], entry_id_of_form()))
        return here(passage, asked)
    after = save_answers(passage, answers, entry_id_of_form())
    return after_saving(after)


def answers_of(
    passage: Passage, sent: Sequence[Sent], *, enough: bool
) -> tuple[list[Given], dict[str, Problem]]:
    """What the forms say, and what is wrong with each that says nothing that can be understood.

    With ``enough`` the person wants the answer now, from what was told.
    """
    answers: list[Given] = []
    wrong: dict[str, Problem] = {}
    for one in sent:
        if enough and one.empty:
            continue
        try:
            value = understood(one, passage, skips=len(sent) > 1)
        except Problem as problem:
            wrong[one.step.id] = problem
        else:
            answers.append(Given(one.step.id, one.typed, value))
    return answers + [Given("enough", {"answer": ["enough"]}, True)] * enough, wrong


def after_saving(after: Passage) -> Response:
    """To the question that is next or must be answered anew, else to what it came to."""
    if after.doomed is not None:
        return here(after, after.flow.step(after.doomed.field))
    return straight_on(after) if after.next_step is None else here(after, after.next_step)


def at_series(
    passage: Passage, asked: Step, form: Form, metric: bool
) -> tuple[str, int] | Response | None:
    """What a series takes beside one more reading: one struck out, or the last of all."""
    if "strike" in form:
        return strike_reading(passage, asked, form["strike"][0])
    end = passage.flow.step(asked.kind.closed_by) if isinstance(asked.kind, Series) else None
    if end is None or end.id not in form:
        return None
    return end_series(passage, asked, end, form, metric)


def strike_reading(passage: Passage, asked: Step, reading: str) -> Response:
    """A reading that is wrong no longer counts; nothing is wiped."""
    check_token()
    if any(one["entry"] == reading for one in passage.readings(asked.id)):
        struck = passage.entry(
            following_id(reading, "strike"),
            "strike",
            step=asked.id,
            replaces=reading,
        )
        keep_once(joblog(), struck)
    return here(passage, asked)


def end_series(
    passage: Passage, asked: Step, end: Step, form: Form, metric: bool
) -> tuple[str, int] | Response:
    """The last reading of a series, and the choice that closes it: sent with one button."""
    entry_id = entry_id_of_form()
    said: Form = {"value": form[end.id]}
    read = {key: typed for key, typed in form.items() if key != end.id}
    sent = Sent(asked, with_points(asked, read) if decimal_comma() else read, metric)
    try:
        check_token()
        closes = None if said["value"] == ["cant-tell"] else read_answer(end, said)
        if not sent.empty:
            keep_once(joblog(), reading_entry(passage, sent, entry_id))
            passage = open_again(passage)
        readings = understood(replace(sent, form={"answer": ["finish"]}), passage, skips=False)
    except CSRFError:
        return question_page(passage, asked, typed={asked.id: read}, problems={asked.id: OLD}), 422
    except Problem as problem:
        typed = {asked.id: again(asked, read, metric)}
        return question_page(passage, asked, typed=typed, problems={asked.id: problem}), 422
    answers = [
        Given(asked.id, {"answer": ["finish"]}, readings),
        Given(end.id, said, closes),
    ]
    ended = following_id(entry_id, "end", 1)
    after = save_answers(passage, answers, ended)
    return after_saving(after)


def straight_on(passage: Passage) -> Response:
    """To the answer of a passage that is over, or past answers that the strip tells whole.

    What follows goes under a run whose id follows from this one, so that a double tap begins it
    once. Where it has nothing to ask, it is worked out here and now.
    """
    for _ in range(len(flows())):  # a chain that came back to itself would never end
        then = follows(open_again(passage))
        run = following_id(passage.run_id, then)
        opened = open_passage(joblog(), then, passage.joint.id, run, passage.now) if then else None
        if opened is None:
            return here(passage, None)
        if opened.next_step is not None:
            return here(opened, opened.next_step)
        if opened.trouble is not None:
            return here(opened, opened.flow.step(opened.trouble.field))
        if opened.run is None or opened.run.result is None:
            entry = result_entry(opened, following_id(run, "result"))
            keep(joblog(), [entry], received=clock.now())
        passage = opened
    return here(passage, None)


def follows(passage: Passage) -> str:
    """The flow that begins at once after this one's answer; empty where the answer is shown."""
    result = passage.run.result if passage.run else None
    if result is None:
        return ""
    flow, worked = passage.flow, result.result or {}
    then = flow.straight_on(worked) if flow.straight_on else ""
    if not then and flow.unasked and not passage.given:
        then = flow.unasked(worked)
    if then != "next":
        return then
    following = next_stage(passage)
    return following.flow if following else ""


def open_again(passage: Passage) -> Passage:
    """The passage as the log has it now."""
    found = open_passage(joblog(), passage.flow.id, passage.joint.id, passage.run_id, passage.now)
    return found or passage


@dataclass(frozen=True)
class Sent:
    """What a page sent for one of its steps, and in which units that page was made."""

    step: Step
    form: Form
    metric: bool

    @property
    def typed(self) -> Form:
        """The form with its units, as it is kept."""
        return with_units(self.step, self.form, metric=self.metric)

    @property
    def button(self) -> str:
        """The button that was pressed."""
        return (self.form.get("answer") or [""])[0]

    @property
    def empty(self) -> bool:
        """Whether nothing was typed or picked."""
        return not any(
            one.strip() for key in self.form if key != "answer" for one in self.form[key]
        )


def forms_of(passage: Passage, asked: Step, form: Form) -> Iterator[tuple[Step, Form]]:
    """Each step that the page asked, with its part of the form.

    Where several steps share a page, a box is named ``STEP.value``, and ``asked`` names the steps:
    what shares a page may be another choice by now. A form that answers the step of the address
    alone is taken as it is.
    """
    named = [passage.flow.step(one) for one in (form.get("asked") or [""])[0].split()]
    shown = tuple(one for one in named if one is not None) or passage.page(asked)
    own = {key: given for key, given in form.items() if "." not in key and key != "asked"}
    if len(shown) == 1 or any(given != [""] for key, given in own.items() if key != "answer"):
        yield asked, with_points(asked, own) if decimal_comma() else own
        return
    for one in shown:
        part = part_of(one, form)
        part = with_points(one, part) if decimal_comma() else part
        yield one, {**part, "answer": form.get("answer", ["give"])}


def part_of(step: Step, form: Form) -> Form:
    """The boxes of one step on a page of several; a usual answer counts where none was typed."""
    mark = f"{step.id}."
    part = {key.removeprefix(mark): form[key] for key in form if key.startswith(mark)}
    usual = part.pop("common", [])
    if usual and not any(part.get("value", [])):
        part["value"] = usual
    return part


def again(step: Step, form: Form, metric: bool) -> Form:
    """What was typed, as a page in the units of now shows it again; ``metric`` tells of then."""
    now = units() == "metric"
    if now == metric:
        return form
    return kept_with_units(step, with_units(step, form, metric=metric), metric=now)


#: A reading was added to a series; the step is not finished yet.
ADDED = object()


def understood(sent: Sent, passage: Passage, *, skips: bool) -> Any:
    """What the form says: a value, None for "can't tell", or ADDED for one more reading.

    With ``skips`` a box that was left empty is an answer left open.

    Raises
    ------
    Problem
        What was typed cannot be understood.
    """
    step, button = sent.step, sent.button
    may_skip = bool(step.cant_tell) and not isinstance(step.kind, Confirm)
    if button == "cant-tell" and step.cant_tell and (sent.empty or not skips):
        return None
    if skips and sent.empty and may_skip:
        return [] if isinstance(step.kind, Several) else None
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
        read_answer(step, sent.form, metric=sent.metric)
        return ADDED
    return read_answer(step, sent.form, metric=sent.metric)


def reading_entry(passage: Passage, sent: Sent, entry_id: str) -> Entry:
    """The entry that saves one reading of a series, with its own time and its unit."""
    return passage.entry(
        entry_id,
        "reading",
        step=sent.step.id,
        typed=dict(sent.typed),
        understood={"at": passage.now, **read_answer(sent.step, sent.typed)},
    )


def question_page(
    passage: Passage, step: Step, *, typed: Known, problems: Mapping[str, Problem]
) -> str:
    """The page that asks ``step`` and those that share its page."""
    shown = passage.page(step)
    before = last_answered(passage, shown[0])
    changes = changes_of(passage, None) if passage.doomed in problems.values() else ()
    return render_template(
        "question.html",
        passage=passage,
        step=step,
        steps=shown,
        closing=passage.flow.closing(shown),
        halting=next((one for one in shown if one.out_stops), None),
        typed=typed,
        problems=problems,
        problem=next(iter(problems.values()), None),
        changes=changes,
        change_entry=fresh_id() if changes else "",
        entry=fresh_id(),
        number=len(passage.given) + (0 if step.id in passage.given else 1),
        last_step=before,
        before=passage.flow.step(before) if before else None,
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
    shown = kept is not None and kept.result is not None and not passage.stopped
    if not shown and passage.trouble is not None:
        page = render_template(
            "stuck.html",
            passage=passage,
            problem=passage.trouble,
            changes=changes_of(passage, None),
            entry=fresh_id(),
        )
        return page, 422
    if kept is None or kept.result is None:
        if passage.next_step is not None:
            return here(passage, passage.next_step)
        return render_template("all_known.html", passage=passage, entry=fresh_id())
    told = tellable(kept.result)
    since = passage.since(kept)
    return render_template(
        "answer.html",
        passage=passage,
        kept=kept,
        since=since,
        since_is=type(since).__name__ if isinstance(since, Step | Problem) else "Answer",
        answer=told,
        blocks=passage.flow.blocks(told),
        picked=passage.run.pick.understood if passage.run and passage.run.pick else "",
        onward=onward(passage, told),
        changes=changes_of(passage, told),
        entry=fresh_id(),
    )


def onward(passage: Passage, answer: Known) -> Onward | None:
    """What leads on from an answer: what the flow says follows, else the next stage.

    From one that refuses the nearest changes lead on, or its flow's way on where none works.
    """
    found = passage.flow.leads_to(answer, passage.facts)
    if found is not None or answer.get("verdict") in passage.flow.refusals:
        return found
    return next_stage(passage)


def next_stage(passage: Passage) -> Onward | None:
    """The stage to do next once this flow is done."""
    stage = next_after(passage.flow.id, passage.flow.then, standing(passage.facts))
    if stage is None:
        return None
    return Onward(stage.stage.flow, say("Next: {what}", what=lower_first(stage.stage.label)))


def changes_of(passage: Passage, answer: Known | None) -> tuple[Change, ...]:
    """The nearest changes that work; none where the answer itself does."""
    return passage.flow.offers(answer, passage.given, passage.facts)


@pages.post("/<run>/change")
def change(joint: str, flow: str, run: str) -> Response:
    """Answer anew as one of the changes says: saved as if each answer had been typed."""
    check_token()
    passage = passage_or_404(joint, flow, run)
    kept = passage.run.result if passage.run else None
    told = tellable(kept.result) if kept is not None and kept.result else None
    named = request.form.get("change", "")
    made = next((one for one in changes_of(passage, told) if one.key == named), None)
    if made is None:  # made already, by the first of two taps
        return here(passage, passage.next_step)
    answers = []
    for step_id, typed in made.typed:
        step = passage.flow.step(step_id)
        form: Form = {"value": list(typed), "answer": ["give"]}
        if step is not None:
            answers.append(Given(step_id, form, read_answer(step, form)))
    after = save_answers(passage, answers, entry_id_of_form())
    return here(after, after.next_step)


@pages.post("/<run>/answer")
def work_out(joint: str, flow: str, run: str) -> Response:
    """Work out a passage that has nothing to ask, since the log knows it all."""
    check_token()
    passage = passage_or_404(joint, flow, run)
    entry_id = entry_id_of_form()
    kept = passage.run.result if passage.run else None
    done = kept is not None and not isinstance(passage.since(kept), Answer)
    if passage.next_step is None and passage.trouble is None and not done:
        keep(joblog(), [result_entry(passage, entry_id)], received=clock.now())
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
    entry = passage.entry(entry_id, "pick", understood=chosen, facts=to_json(learned))
    keep_once(joblog(), entry, passage.run.pick if passage.run else None)
    after = open_again(passage)
    following = onward(after, tellable(kept.result)) if learned else None
    if following is not None and following.flow == "card":  # stands on the page that was left
        following = next_stage(after)
    if following is None:
        return redirect(url_for("joints.show", joint=passage.joint.id), 303)
    return redirect(url_for("steps.begin", joint=passage.joint.id, flow=following.flow), 303)
