"""Jobs: the list, one job at a glance, a new joint, a note, and taking a job out or in."""

from __future__ import annotations

import json
import re
from collections.abc import Collection, Iterable, Iterator, Mapping
from contextlib import ExitStack, closing
from hashlib import sha256
from itertools import count
from shutil import copyfileobj
from tempfile import SpooledTemporaryFile
from typing import IO

from flask import (
    Blueprint,
    abort,
    current_app,
    redirect,
    render_template,
    request,
    url_for,
)
from werkzeug.wrappers import Response as AnyResponse

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import say
from fieldkit.engine.working import tellable
from fieldkit.flows.checklist import next_of, standing
from fieldkit.flows.facts import shared
from fieldkit.joblog import (
    Entry,
    Hit,
    JobLog,
    JobNow,
    JointNow,
    Stored,
    acceptance,
    bringing,
    exchange,
)
from fieldkit.joblog.marks import UNFIT
from fieldkit.typed import answers
from fieldkit.web import beside, clock
from fieldkit.web.access import note, tally
from fieldkit.web.idempotent import entry_id_of_form
from fieldkit.web.ids import fresh_id
from fieldkit.web.look import joblog
from fieldkit.web.pages.common import chosen_file, job_or_404, joints_shown, keep_form, need_text
from fieldkit.web.pages.record import can_make
from fieldkit.web.photos import photos, take_carried
from fieldkit.web.who import rules_of_asker
from fieldkit.web.wording import in_words_of_the_log, waiting_until

pages = Blueprint("jobs", __name__)

#: Jobs, or what a search finds, on one page.
PAGE = 50

#: Entries that a page takes in of one file, and where it gives a file up.
MOST_ENTRIES, MOST_REFUSED = 50_000, 1_000


@pages.get("/jobs")
def listing() -> str:
    """Open jobs or finished ones, newest first, or what a search finds; a page at a time."""
    return jobs_page(fresh_id(), asked=request.args.get("q", "")[:200].strip())


def jobs_page(entry: str, *, asked: str = "", problem: Problem | None = None) -> str:
    """The list of jobs, with what was typed kept when something is wrong."""
    log, finished = joblog(), request.args.get("finished") == "1"
    at, _, job_id = request.args.get("after", "")[:100].partition(" ")
    found: tuple[Hit, ...] | None = None
    jobs: tuple[JobNow, ...] = ()
    if asked:
        before = request.args.get("before", 1 << 62, type=int)
        before = min(max(before, 0), 1 << 62)
        found = log.search(asked, PAGE, before, in_words_of_the_log(asked))
    else:
        jobs = log.jobs(PAGE, (at, job_id) if job_id else None, closed=finished)
    more = ""
    if found and len(found) == PAGE:
        more = url_for("jobs.listing", q=asked, before=found[-1].seq)
    elif len(jobs) == PAGE:
        state = "1" if finished else None
        more = url_for("jobs.listing", after=" ".join(jobs[-1].after), finished=state)
    return render_template(
        "jobs.html",
        jobs=jobs,
        more=more,
        doubted=log.doubted_of(job.id for job in jobs),
        waits={job.id: joint for job in jobs if (joint := _waits(log, job.id))},
        asked=asked,
        found=found,
        finished=finished,
        backup="backup" in current_app.blueprints,
        entry=entry,
        typed=request.form,
        problem=problem,
    )


def _waits(log: JobLog, job: str) -> JointNow | None:
    """Of a job in which cement cures, the joint that is ready last."""
    for most in (1, 20):  # mostly the first does; reading many takes its time
        found = log.curing(job, clock.now(), most)
        waiting = next((one for one in found if waiting_until(one)), None)
        if waiting or len(found) < most:
            return waiting
    return None


@pages.post("/jobs")
def add_job() -> tuple[str, int] | AnyResponse:
    """A new job, with a name and a place."""
    entry_id = entry_id_of_form()
    try:
        said = name_and_place("name")
    except Problem as problem:
        return jobs_page(entry_id, problem=problem), 422
    opened = keep_form(entry_id, "job", job=entry_id, understood=said)
    return redirect(url_for("jobs.show", job=opened.id), 303)


def name_and_place(box: str) -> dict[str, str]:
    """What a job is called, as typed in ``box``, and where it is.

    Raises
    ------
    Problem
        It has no name, or one of them is too long.
    """
    name = need_text(box, 80, say("Give the job a name."))
    place = answers.read_text(request.form.get("place", ""), field="place", limit=120)
    return {"name": name, "place": place}


def names_of(log: JobLog, history: Iterable[Stored]) -> dict[str, str]:
    """What the joints of some entries are called."""
    named = (log.joint(one) for one in {one.entry.joint for one in history})
    return {joint.id: joint.name for joint in named if joint}


@pages.get("/job/<job>")
def show(job: str) -> str:
    """One job: each joint's state at a glance, and what is next."""
    return job_page(job)


def job_page(job: str, problem: Problem | None = None) -> str:
    """The page of one job, with what was typed kept when something is wrong."""
    log, found = joblog(), job_or_404(job)
    shown, before, after = joints_shown(found)
    joints = [(one, standing(one.facts)) for one in shown]
    asked = request.args.get("like", "")
    known = [joint for joint, _ in joints if shared(joint.facts)]
    like = next((one for one in known if one.id == asked), known[-1] if known else None)
    history = log.history(job_id=job, limit=80)
    return render_template(
        "job.html",
        like=like,
        next_name=next_name(log.joint_names(job), like.name) if like else "",
        job=found,
        joints=[(joint, stages, next_of(stages)) for joint, stages in joints],
        before=before,
        after=after,
        history=history,
        names=names_of(log, history),
        entry=fresh_id(),
        note_entry=fresh_id(),
        close_entry=fresh_id(),
        rename_entry=fresh_id(),
        typed=request.form,
        problem=problem,
        labels=can_make("segno"),
    )


def next_name(names: Collection[str], last: str) -> str:
    """The name that follows ``last`` in sequence and is not taken.

    Examples
    --------
    >>> next_name(["Box 3", "Box 4"], "Box 3"), next_name([], "Bed 2, north"), next_name([], "A")
    ('Box 5', 'Bed 3, north', 'A 2')
    """
    found = re.search(r"\d{1,6}(?=\D*$)", last)
    if found is None:
        return next_name(names, f"{last} 1") if last else ""
    first, end = int(found[0]) + 1, found.end()
    following = (f"{last[: found.start()]}{n}{last[end:]}" for n in count(first))
    return next(name for name in following if name not in names)


@pages.post("/job/<job>/joints")
def add_joint(job: str) -> tuple[str, int] | AnyResponse:
    """A new joint in this job."""
    job_or_404(job)
    log, entry_id = joblog(), entry_id_of_form()
    like = log.joint(request.form.get("like", ""), job)
    begins = request.form.get("begin") == "1"  # one tap: named after the last, and begun
    try:
        if like is not None and begins and not request.form.get("name", "").strip():
            name = next_name(log.joint_names(job), like.name)[:80]
        else:
            example = say("Bed 2, north end")
            instead = say("Say where the joint is, such as {example}.", example=example)
            name = need_text("name", 80, instead)
    except Problem as problem:
        return job_page(job, problem), 422
    taken = {"facts": shared(like.facts), "note": like.name} if like else {}
    said = {"name": name} | ({"like": like.id} if like else {})
    added = keep_form(entry_id, "joint", job=job, joint=entry_id, understood=said, **taken)
    made = log.joint(added.id)
    stage = next_of(standing(made.facts)) if made is not None and begins else None
    if stage is None:
        return redirect(url_for("joints.show", joint=added.id), 303)
    return redirect(url_for("steps.begin", joint=added.id, flow=stage.stage.flow), 303)


@pages.post("/job/<job>/close")
def close(job: str) -> AnyResponse:
    """The job is finished and goes to the finished ones, or is open again. Nothing is lost."""
    closed = request.form.get("closed") == "1"
    if job_or_404(job).closed != closed:
        keep_form(entry_id_of_form(), "close", job=job, understood={"closed": closed})
    return redirect(url_for("jobs.show", job=job), 303)


@pages.post("/job/<job>/rename")
def rename(job: str) -> tuple[str, int] | AnyResponse:
    """Another name or place for the job."""
    job_or_404(job)
    try:
        said = name_and_place("job_name")
    except Problem as problem:
        return job_page(job, problem), 422
    keep_form(entry_id_of_form(), "rename", job=job, understood=said)
    return redirect(url_for("jobs.show", job=job), 303)


@pages.post("/job/<job>/notes")
def add_note(job: str) -> tuple[str, int] | AnyResponse:
    """A note on the job, or on one of its joints."""
    job_or_404(job)
    joint = request.form.get("joint", "")
    if joint and joblog().joint(joint, job) is None:
        abort(404)
    try:
        note = need_text("note", 2000, say("Write the note first."))
    except Problem as problem:
        return job_page(job, problem), 422
    keep_form(entry_id_of_form(), "note", job=job, joint=joint, note=note)
    where = url_for("joints.show", joint=joint) if joint else url_for("jobs.show", job=job)
    return redirect(where, 303)


@pages.get("/job/<job>/export.<kind>")
def export(job: str, kind: str) -> AnyResponse:
    """The whole job as one file, to keep or to carry to another copy; a large one beside."""
    log, company = joblog(), current_app.config["COMPANY"]
    found = job_or_404(job)
    if kind not in {"json", "csv"}:
        abort(404)
    title, back = say("The job as a file"), url_for("jobs.show", job=job)
    headers = {
        "Content-Type": "application/json" if kind == "json" else "text/csv; charset=utf-8",
        "Content-Disposition": f'attachment; filename="fieldkit-{job}.{kind}"',
    }

    def make(tell: beside.Tell) -> Iterator[str]:
        entries = counted(exchange.entries_of(log, job), found.entries, tell)
        if kind == "csv":
            return exchange.csv_lines(entries)
        named = exchange.photos_named(exchange.entries_of(log, job))
        read = ((one, photos().read(one)) for one in named)
        here = ((digest, data) for digest, data in read if data is not None)
        return exchange.json_lines(entries, company, here)

    return beside.handed_over(title, back, headers, found.entries, make)


def counted(entries: Iterable[Entry], whole: int, tell: beside.Tell) -> Iterator[Entry]:
    """Entries, and after each five hundred of them a word of how far it is."""
    for n, one in enumerate(entries, start=1):
        if n % 500 == 0:
            tell(n, whole)
        yield one


@pages.post("/jobs/import")
def bring_in() -> tuple[str, int] | AnyResponse:
    """Bring entries in from a file; what is here already stays as it is. A large one beside."""
    try:
        upload = chosen_file()
        with ExitStack() as files:
            # The form's own goes with the request.
            file = files.enter_context(SpooledTemporaryFile(beside.LONG_BYTES))
            with closing(upload):
                copyfileobj(upload.stream, file)
            if not beside.is_long(0, file.tell()):
                carried = carried_here(file)
                if not beside.is_long(carried.count):
                    return brought_in(carried, lambda *_: None), 200
            still_open = files.pop_all()
    except Problem as problem:
        return jobs_page(fresh_id(), problem=problem), 422

    def make(work: beside.Work) -> None:
        with still_open:
            beside.put(work, [brought_in(carried_here(file), work.tell)])

    return beside.begin(say("Bring in a job from a file"), url_for("jobs.listing"), make)


def carried_here(file: IO[bytes]) -> exchange.Carried:
    """What a file brings that a page takes in.

    Raises
    ------
    Problem
        It is no file of entries, or holds more of them than a page takes.
    """
    carried = exchange.carried_by(file)
    if carried.count > MOST_ENTRIES:
        raise Problem(
            "file",
            None,
            say("This file holds {n} entries.", n=carried.count),
            say(
                "A page takes up to {most}. {command} on the server takes any number.",
                most=MOST_ENTRIES,
                command="fieldkit import",
            ),
        )
    return carried


def brought_in(carried: exchange.Carried, tell: beside.Tell) -> str:
    """Take a file in; the page that says what became of it."""
    log = joblog()
    on_purpose = request.form.get("elsewhere") == "on"
    rules = rules_of_asker(carried.company, on_purpose=on_purpose, brought_from="file")
    done = bringing.bring_in(log, carried, rules, clock.now, tell=tell, most_refused=MOST_REFUSED)
    photos_refused = take_carried(log, photos(), carried.photos())
    done.refuse(photos_refused)
    note("brought in", tally(done.new, done.already, done.refused))
    return render_template(
        "imported.html", done=done, photos=carried.photo_count - len(photos_refused)
    )


@pages.get("/refused")
def refused() -> str:
    """What other devices sent and was not taken in, and why."""
    return refused_page()


def refused_page(problem: Problem | None = None) -> str:
    """What was not taken in, with a way to take in what a lead answers for."""
    log = joblog()
    found = [(one, tellable(json.loads(one["reason"])), mark_of(one)) for one in log.refused()]
    aside = ((mark, log.entry(mark.entry)) for mark in log.marks(UNFIT, limit=200))
    unfit = [(mark, kept.entry) for mark, kept in aside if kept is not None]
    return render_template("refused.html", refused=found, unfit=unfit, problem=problem)


def mark_of(one: Mapping[str, str]) -> str:
    """What a form names a refused entry by; empty where it was too long to be kept whole."""
    try:
        whole = isinstance(json.loads(one["body"]), dict)
    except ValueError:
        whole = False
    return sha256(f"{one['name']} {one['body']}".encode()).hexdigest() if whole else ""


@pages.post("/refused")
def take_refused() -> tuple[str, int] | AnyResponse:
    """Take in, on purpose, what another device sent and was refused to its sender."""
    log, mark = joblog(), request.form.get("mark", "")
    found = next((one for one in log.refused() if mark and mark_of(one) == mark), None)
    if found is not None:
        rules = rules_of_asker(on_purpose=True, brought_from="refused")
        outcome = acceptance.take_in(log, [json.loads(found["body"])], rules, clock.now())
        if outcome.refused:
            return refused_page(outcome.refused[0][1]), 422
        log.no_longer_refused(found["name"], found["body"])
        note("brought in", tally(1, 0, 0))
    return redirect(url_for("jobs.refused"), 303)
