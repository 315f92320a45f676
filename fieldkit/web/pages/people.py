"""Logging in, joining by invitation, and what a lead sees of the people."""

from __future__ import annotations

import re
import secrets
from dataclasses import dataclass

from flask import (
    Blueprint,
    abort,
    current_app,
    redirect,
    render_template,
    request,
    session,
    url_for,
)
from werkzeug.wrappers import Response

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import Text, say
from fieldkit.flows.catalogue import flows
from fieldkit.joblog import Entry, utc_text
from fieldkit.joblog.names import read_name, same_name
from fieldkit.joblog.people import (
    FREE_OF_ADDRESS,
    FREE_TRIES,
    ROLES,
    Invite,
    Person,
    Role,
    digest,
)
from fieldkit.typed import answers
from fieldkit.web import clock
from fieldkit.web.access import GUEST_FLOWS, asker, note, people, wait_words, whence
from fieldkit.web.idempotent import keep
from fieldkit.web.ids import fresh_id
from fieldkit.web.look import joblog
from fieldkit.web.pages.common import job_or_404, joints_shown
from fieldkit.web.passwords import hash_password, is_right, needs_new_hash, rehash
from fieldkit.web.qr import qr_svg
from fieldkit.web.safe import local_path
from fieldkit.web.who import signature_of_asker

pages = Blueprint("people", __name__)


def entry_of(person: Person, who: str, *, ended: bool = False, first: bool = True) -> Entry:
    """What the log keeps of a person: name and role, nothing secret."""
    said = {"name": person.name, "role": person.role, "job": person.job, "ended": ended}
    entry_id = fresh_id() if ended or not first else person.id
    return Entry(id=entry_id, at=clock.now(), job="", kind="person", understood=said, who=who)


def sit_down(person: Person) -> None:
    """Begin a session with a new token; whatever the browser held before is worth nothing."""
    if old := session.get("seat"):
        people().leave(old)
    session.clear()
    token = secrets.token_urlsafe(32)
    session["seat"] = token
    # This device has held their session: see ``tries_about``.
    session["known"] = f"{person.id} {secrets.token_urlsafe(16)}"
    people().begin(token, person.id, request.user_agent.string, clock.now_ms())


# ── Log in and out ──────────────────────────────────────────────────────────────────────────


@pages.get("/enter")
def enter() -> str | Response:
    """Who are you?"""
    wanted = local_path(request.args.get("next", "/"))
    if asker() is not None:
        return redirect(wanted, 303)
    return render_template("people/enter.html", wanted=wanted, typed={}, problem=None)


def tries_about(name: str, person: Person | None) -> str:
    """What wrong tries at a name are counted under, in the form that it is looked up by.

    A device that has held this person's session counts for itself, so a stranger who guesses
    elsewhere keeps nobody out of their own phone.
    """
    known = str(session.get("known", ""))
    if person is not None and known.partition(" ")[0] == person.id:
        return f"device {known}"
    return f"name {same_name(name)}"


@pages.post("/enter")
def take_login() -> tuple[str, int] | Response:
    """Check name and password; wrong tries slow down, by name and by address."""
    name = request.form.get("name", "")[:200]
    password = request.form.get("password", "")[:1000]
    wanted = local_path(request.form.get("next", "/"))
    now, store = clock.now_ms(), people()
    found = store.named(name)
    person = found[0] if found else None
    about, address = tries_about(name, person), f"address {whence()}"
    counted = {about: FREE_TRIES, address: FREE_OF_ADDRESS}
    # A name that nobody has is not written down: it may be a password in the wrong box.
    meant = f"for {person.name}" if person else ""
    status = 422
    if (wait := store.must_wait(counted, now)) > 0:
        note("waits", meant)
        status = 429
        problem = Problem("password", None, *wait_words(wait))
    else:
        # Counted before it is checked: of many tries sent at once, each finds those before it.
        store.wrong(counted, now)
        if is_right(found[1] if found else None, password) and found:
            store.right(about, address)
            if needs_new_hash(found[1]):
                store.set_password(found[0].id, rehash(password))
            sit_down(found[0])
            note("entered", who=found[0].name)
            return redirect(wanted, 303)
        note("wrong", meant)
        problem = Problem(
            "password",
            None,
            say("Name and password do not belong together."),
            say("Check both. A lead can make you a link for a new password."),
        )
    page = render_template("people/enter.html", wanted=wanted, typed=request.form, problem=problem)
    return page, status


@pages.post("/leave")
def leave() -> Response:
    """Log out on this device."""
    people().leave(session.get("seat", ""))
    known = session.get("known")
    session.clear()
    if known:
        session["known"] = known
    return redirect(url_for("people.enter"), 303)


# ── Join by invitation ──────────────────────────────────────────────────────────────────────


@pages.get("/join/<token>")
def join(token: str) -> str | tuple[str, int]:
    """What an invitation is for. Only the button uses it up, so a preview does no harm."""
    invite = people().invited(token, clock.now_ms())
    if invite is None:
        return gone()
    return join_page(invite, token)


def join_page(invite: Invite, token: str, problem: Problem | None = None) -> str:
    """What an invitation is for; what was typed stays when something is wrong."""
    return render_template(
        "people/join.html",
        invite=invite,
        job=joblog().job(invite.job) if invite.job else None,
        token=token,
        typed=request.form,
        problem=problem,
    )


def gone() -> tuple[str, int]:
    """This invitation does not work (any more)."""
    return (
        render_template(
            "problem_page.html",
            heading="This invitation works no more",
            advice="It works once, for three days. If you joined with it, log in. Else ask anew.",
        ),
        404,
    )


@pages.post("/join/<token>")
def accept(token: str) -> str | tuple[str, int] | Response:
    """Use the invitation up: a guest is in at once, others choose a password."""
    store, now = people(), clock.now_ms()
    invite = store.invited(token, now)
    if invite is None:
        return gone()
    try:
        name, hashed = invite.name, ""
        if invite.role != "guest":
            if not invite.person:
                name = read_name(request.form.get("name", "")[:1000])
            hashed = hash_password(request.form.get("password", "")[:1000], name)
        person = Person(invite.person or fresh_id(), name, invite.role, invite.job)
        if not store.accept(token, person, hashed, now):
            return gone()
    except Problem as problem:
        return join_page(invite, token, problem), 422
    back = bool(invite.person)
    store.right(f"name {same_name(name)}")
    keep(joblog(), [entry_of(person, person.name, first=not back)], received=clock.now())
    sit_down(person)
    if back:
        note("returned", who=name)
    else:
        note("joined", invite.role, who=name)
    return redirect(url_for("home.show"), 303)


@pages.get("/guest/<job>")
def guest(job: str) -> str:
    """The one job of a guest: each joint, and what may be wrong with it."""
    found = job_or_404(job)
    joints, before, after = joints_shown(found)
    return render_template(
        "people/guest.html",
        job=found,
        joints=joints,
        before=before,
        after=after,
        flows=[one for one in flows().values() if one.id in GUEST_FLOWS],
    )


# ── One's own sessions ──────────────────────────────────────────────────────────────────────


def myself() -> Person:
    """The person who is logged in; on one's own machine there is none."""
    person = asker()
    if person is None or not person.id:
        abort(404)
    return person


@dataclass(frozen=True, slots=True)
class Seat:
    """One device on which a person is logged in, as the page shows it."""

    device: Text
    used: str
    began: str
    here: bool


def device_words(agent: str) -> Text:
    """What kind of device a browser says it is on.

    Examples
    --------
    >>> device_words("Mozilla/5.0 (Linux; Android 15) Mobile"), device_words("")
    ('A phone', 'A computer')
    """
    if re.search("iPad|Tablet", agent):
        return say("A tablet")
    return say("A phone") if re.search("Mobi|Android|iPhone", agent) else say("A computer")


def mine_page(problem: Problem | None = None) -> str:
    """Where one is logged in, and a new password."""
    person = myself()
    return render_template(
        "people/mine.html",
        person=person,
        seats=[
            Seat(
                device_words(one.device),
                utc_text(one.used),
                utc_text(one.began),
                one.token == digest(session.get("seat", "")),
            )
            for one in people().sessions(person.id)
        ],
        problem=problem,
    )


@pages.get("/me")
def mine() -> str:
    """Where am I logged in?"""
    return mine_page()


@pages.post("/me/end")
def end_mine() -> Response:
    """Log out everywhere but here."""
    people().end_sessions(myself().id, but=session.get("seat", ""))
    return redirect(url_for("people.mine"), 303)


def require_password() -> None:
    """See that who asks gave their password once more, as ``old``.

    Raises
    ------
    Problem
        It is wrong, or there were several wrong tries.
    """
    person, store, now = myself(), people(), clock.now_ms()
    # Counted by the session, which a stranger does not have.
    counted = {f"session {session.get('seat', '')}": FREE_TRIES}
    kept = store.named(person.name)
    if store.must_wait(counted, now) > 0:
        raise Problem(
            "old", None, say("There were several wrong tries."), say("Wait a little first.")
        )
    store.wrong(counted, now)
    if not is_right(kept[1] if kept else None, request.form.get("old", "")[:1000]):
        raise Problem("old", None, say("This is not your password."), say("Type it again."))
    store.right(*counted)


@pages.post("/me/password")
def change_password() -> tuple[str, int] | Response:
    """A new password, by who knows the old one; all other devices are logged out."""
    person, store = myself(), people()
    try:
        require_password()
        hashed = hash_password(request.form.get("password", "")[:1000], person.name)
    except Problem as problem:
        return mine_page(problem), 422
    store.set_password(person.id, hashed)
    store.end_sessions(person.id)
    note("password")
    session.pop("seat", None)
    sit_down(person)
    return redirect(url_for("people.mine"), 303)


# ── What a lead does ────────────────────────────────────────────────────────────────────────


def people_page(
    problem: Problem | None = None, link: str = "", invited: Invite | None = None
) -> str:
    """Everyone who may enter, and a new invitation."""
    store, jobs = people(), joblog().jobs(limit=200)
    return render_template(
        "people/people.html",
        people=[(one, store.sessions(one.id)) for one in store.all()],
        ended=store.ended(),
        invites=[
            (one, utc_text(one.until)) for one in store.invites(clock.now_ms()) if one != invited
        ],
        jobs=jobs,
        job_names={job.id: job.name for job in jobs},
        invited=invited,
        link=link,
        code=qr_svg(link, "The invitation as a code to scan") if link else "",
        until=utc_text(invited.until) if invited else "",
        typed=request.form if problem else {},
        problem=problem,
        beyond=current_app.config["LISTENS_BEYOND"],
    )


@pages.get("/people")
def show() -> str:
    """The people."""
    return people_page()


@pages.post("/people/invite")
def invite() -> str | tuple[str, int]:
    """Make an invitation; its link is shown this once."""
    given = request.form.get("role", "")
    job = request.form.get("job", "")
    try:
        typed = answers.read_text(request.form.get("name", ""), field="name", limit=80)
        role: Role | None = next((one for one in ROLES if one == given), None)
        if role is None:
            raise Problem("role", given, say("No role was chosen."), say("Choose one."))
        if role == "guest" and joblog().job(job) is None:
            raise Problem(
                "job", job, say("No job was chosen."), say("Choose the job that the guest sees.")
            )
        name = read_name(typed or "Guest")
        page = page_with_link(Person("", name, role, job if role == "guest" else ""))
    except Problem as problem:
        return people_page(problem), 422
    note("invited", name)
    return page


def page_with_link(person: Person) -> str:
    """The people, and a link that lets one in, or back in who has been here before."""
    token, now, store = secrets.token_urlsafe(24), clock.now_ms(), people()
    store.invite(
        token,
        person.name,
        person.role,
        now,
        person.job,
        person=person.id,
        maker=signature_of_asker(),
    )
    link = url_for("people.join", token=token, _external=True)
    return people_page(link=link, invited=store.invited(token, now))


@pages.post("/people/<person>/reset")
def reset(person: str) -> str:
    """Make a link by which somebody chooses a new password, and comes back if access was ended."""
    found = people().person(person, also_ended=True)
    if found is None or found.role == "guest":
        abort(404)
    note("reset", found.name)
    return page_with_link(found)


@pages.post("/people/revoke")
def revoke() -> Response:
    """An invitation works no more."""
    if gone_now := people().revoke(request.form.get("key", "")):
        note("revoked", gone_now.name)
    return redirect(url_for("people.show"), 303)


@pages.post("/people/<person>/end-sessions")
def end_sessions(person: str) -> Response:
    """Log a person out everywhere."""
    found = people().person(person)
    if found is not None and people().end_sessions(person):
        note("logged out", found.name)
    return redirect(url_for("people.show"), 303)


@pages.post("/people/<person>/end")
def end_person(person: str) -> Response:
    """A person may enter no more; what they wrote stays."""
    found = people().person(person)
    if found is None:
        abort(404)
    myself_now = asker()
    if myself_now is not None and myself_now.id == person:
        raise Problem(
            "person", person, say("This is you."), say("Another lead can end your access.")
        )
    people().end(person)
    note("ended", found.name)
    keep(joblog(), [entry_of(found, signature_of_asker(), ended=True)], received=clock.now())
    return redirect(url_for("people.show"), 303)
