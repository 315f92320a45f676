"""The lead's page of a job: what is complete, what is missing, and the signature."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from flask import Blueprint, redirect, request, url_for
from werkzeug.wrappers import Response

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import Quote, say
from fieldkit.flows.checklist import point_name
from fieldkit.joblog import Entry, JobNow, JointNow
from fieldkit.joblog.read import Stored
from fieldkit.joblog.signing import (
    Point,
    brought_in,
    last_own,
    points,
    read_through,
    seal_over,
)
from fieldkit.typed import answers
from fieldkit.web import beside, clock
from fieldkit.web.idempotent import entry_id_of_form, keep
from fieldkit.web.ids import fresh_id
from fieldkit.web.look import joblog
from fieldkit.web.pages.common import job_or_404
from fieldkit.web.who import signature_of_asker

pages = Blueprint("signing", __name__, url_prefix="/job/<job>/sign")

#: So many of the entries that were added after signing are listed.
MOST_SHOWN = 300


@dataclass(frozen=True, slots=True)
class JointToSign:
    """One joint with its points; ``box`` names the reason's box of a point that is missing."""

    joint: JointNow
    points: tuple[Point, ...]

    @property
    def missing(self) -> list[Point]:
        """What is still to be done."""
        return [one for one in self.points if not one.met]

    @property
    def done(self) -> list[Point]:
        """What is done."""
        return [one for one in self.points if one.met]

    @property
    def box_of_all(self) -> str:
        """The form's name for one reason to sign without all that is missing here."""
        return f"waive-all-{self.joint.id}"

    def box(self, point: Point) -> str:
        """The form's name for the reason to sign without this point."""
        return f"waive-{self.joint.id}-{point.id}"


def lines_of(job: str, now: str) -> list[JointToSign]:
    """The joints of a job with what each needs."""
    return [JointToSign(joint, points(joint, now)) for joint in joblog().joints(job)]


def sign_page(job: JobNow, tell: beside.Tell, problem: Problem | None = None) -> Iterator[str]:
    """What is complete and what is missing; reasons that were typed stay."""
    log, arrived = joblog(), {}

    def each(one: Stored) -> None:
        if one.apart:
            arrived[one.entry.id] = one.apart

    through = read_through(log, job.id, each, lambda n: tell(n, job.entries))
    checked = through.checked
    own = last_own(checked, brought_in(log, job.id))
    lines = lines_of(job.id, clock.now())
    after = own.after if own else ()
    return beside.drawn(
        "sign.html",
        tell,
        job.entries,
        job=job,
        lines=lines,
        lacking=sum(len(line.missing) for line in lines),
        label_of=point_name,
        checked=checked,
        signed=own is not None,
        after=after,
        last_after=after[-MOST_SHOWN:],
        names={line.joint.id: line.joint.name for line in lines},
        seen=len(through.digests),
        arrived=arrived,
        name=signature_of_asker(),
        typed=request.form,
        problem=problem,
        entry=fresh_id(),
    )


@pages.get("")
def show(job: str) -> str | Response:
    """What is complete, what is missing, who signed; of a large job worked out beside."""
    found = job_or_404(job)
    back = url_for("jobs.show", job=job)
    return beside.page(
        say("Sign this job"), back, found.entries, lambda tell: sign_page(found, tell)
    )


@pages.post("")
def sign(job: str) -> tuple[str, int] | Response:
    """Seal what is there; refused while something is missing without a reason."""
    found, entry_id = job_or_404(job), entry_id_of_form()
    if beside.is_long(found.entries):

        def make(work: beside.Work) -> None:
            problem = signed(job, entry_id, work.tell)
            beside.put(work, sign_page(found, work.tell, problem))

        return beside.begin(say("Sign this job"), url_for("jobs.show", job=job), make)
    problem = signed(job, entry_id, lambda *_: None)
    if problem is not None:
        return "".join(sign_page(found, lambda *_: None, problem)), 422
    return redirect(url_for("signing.show", job=job), 303)


def signed(job: str, entry_id: str, tell: beside.Tell) -> Problem | None:
    """Sign as the form says; what is in the way, if anything."""
    log, now = joblog(), clock.now()
    if log.entry(entry_id) is None:  # else a double tap: it is signed
        try:
            keep(log, [signature(job, entry_id, now, tell)], received=now)
        except Problem as problem:
            return problem
    return None


def signature(job: str, entry_id: str, now: str, tell: beside.Tell) -> Entry:
    """The signature of the form that was sent.

    Raises
    ------
    Problem
        A point is missing without a reason, nobody is named, or the job changed meanwhile.
    """
    before = read_through(joblog(), job, tell=lambda n: tell(n, n))
    lines = lines_of(job, now)
    if not lines:
        raise Problem(
            "", "", say("There is no joint to sign for."), say("Add the joints to the job first.")
        )
    name = signature_of_asker() or answers.read_text(
        request.form.get("name", ""), field="name", limit=80
    )
    waived = []
    for line in lines:
        for point in line.missing:
            box = line.box(point)
            own, for_all = (request.form.get(one, "") for one in (box, line.box_of_all))
            reason = answers.read_text(own.strip() or for_all, field=box, limit=500)
            if not reason:
                raise Problem(
                    box,
                    "",
                    say("{joint} is not complete.", joint=line.joint.name),
                    say("Do this first, or give the reason to sign without it: {what}.",
                        what=point.label),
                )  # fmt: skip
            waived.append({"joint": line.joint.id, "point": point.id, "reason": reason})
    if not name:
        raise Problem("name", "", say("Nobody is named."), say("Write who signs."))
    if request.form.get("seen") != str(len(before.digests)):
        raise Problem(
            "", "", say("Something was added to this job meanwhile."), say("Look, then sign again.")
        )
    complete = {line.joint.id: [point.id for point in line.done] for line in lines}
    made = Entry(
        id=entry_id,
        at=joblog().in_turn(job, now),
        job=job,
        kind="signature",
        understood={"name": name, "complete": complete, "waived": waived},
        result={"headline": str(say("Signed by {name}", name=Quote(name)))},
        who=signature_of_asker() or name,
        note=answers.read_text(request.form.get("note", ""), field="note", limit=500),
    )
    return seal_over(made, before, brought_in(joblog(), job))
