"""Who may do what: one table, and one gate that every request passes.

On one's own machine nobody logs in and all is open. As soon as the server listens beyond it, an
endpoint is open to those who stand in ``LEAST``; one that is not listed is refused to everyone.
"""

from __future__ import annotations

import ipaddress
from contextlib import suppress
from urllib.parse import urlsplit

from flask import Flask, abort, current_app, g, redirect, request, session, url_for
from werkzeug.wrappers import Response

from fieldkit.engine.words import Span, Text, say
from fieldkit.joblog.door import LARGEST_PHOTO_BYTES
from fieldkit.joblog.people import ROLES, People, Person, Role
from fieldkit.web import clock
from fieldkit.web.look import joblog

#: endpoint → who may use it at least; None: anyone, also before logging in.
LEAST: dict[str, Role | None] = {
    # The program itself, the same for everybody, and the ways in.
    "static": None,
    "face.show": None,
    "people.enter": None,
    "people.take_login": None,
    "people.join": None,
    "people.accept": None,
    "choices.show": None,
    "choices.take": None,
    "home.look": None,
    "check.show": None,
    "phone.manifest": None,
    "phone.words": None,
    "phone_server.worker": None,
    # A homeowner: one job, what is wrong with it, and what anyone may look up.
    "home.show": "guest",
    "people.leave": "guest",
    "people.guest": "guest",
    "jobs.show": "guest",
    "joints.show": "guest",
    "steps.begin": "guest",
    "steps.go_on": "guest",
    "steps.ask": "guest",
    "steps.take": "guest",
    "steps.answer": "guest",
    "steps.pick": "guest",
    "steps.change": "guest",
    "card.show": "guest",
    "steps.work_out": "guest",
    "pocket.show": "guest",
    "pocket.sheet": "guest",
    "pocket.sources": "guest",
    "ruler.show": "guest",
    "gauge.show": "guest",
    "api.names": "guest",
    "api.description": "guest",
    "api.answer": "guest",
    # The work.
    "home.start": "technician",
    "jobs.listing": "technician",
    "jobs.add_job": "technician",
    "jobs.add_joint": "technician",
    "jobs.add_note": "technician",
    "jobs.close": "technician",
    "jobs.rename": "technician",
    "joints.rename": "technician",
    "beside.show": "technician",
    "beside.take": "technician",
    "jobs.export": "technician",
    "jobs.bring_in": "technician",
    "joints.strike": "technician",
    "prices.show": "technician",
    "prices.as_csv": "technician",
    "prices.history": "technician",
    "diagnoses.show": "technician",
    "diagnoses.paper": "technician",
    "diagnoses.as_csv": "technician",
    "record.show": "technician",
    "record.pdf": "technician",
    "record.whole": "technician",
    "record.labels": "technician",
    "photos.show": "technician",
    "photos.take": "technician",
    "photos.image": "technician",
    "people.mine": "technician",
    "people.end_mine": "technician",
    "people.change_password": "technician",
    "phone.show": "technician",
    "phone.shell": "technician",
    "phone.diagnose": "technician",
    "phone.last": "technician",
    "phone_server.about": "technician",
    "phone_server.part": "technician",
    "phone_server.token": "technician",
    "phone_server.send": "technician",
    "phone_server.since": "technician",
    "phone_server.jobs": "technician",
    "phone_server.photo": "technician",
    "phone_server.take_photo": "technician",
    # What the crew answers for.
    "prices.take": "lead",
    "prices.take_file": "lead",
    "signing.show": "lead",
    "signing.sign": "lead",
    "joints.move": "lead",
    "crew.show": "lead",
    "crew.as_json": "lead",
    "crew.as_csv": "lead",
    "crew.order": "lead",
    "crew.order_text": "lead",
    "jobs.refused": "lead",
    "jobs.take_refused": "lead",
    "backup.show": "lead",
    "backup.make": "lead",
    "people.show": "lead",
    "people.invite": "lead",
    "people.end_sessions": "lead",
    "people.end_person": "lead",
    "people.reset": "lead",
    "people.revoke": "lead",
}

#: Where a request keeps the host that was asked for, when it is told another one.
ASKED_HOST = "fieldkit.asked_host"

#: The flows that a guest may go through.
GUEST_FLOWS = frozenset({"leak-now", "popped-off", "failed-test", "mend"})

#: A guest who comes to these is shown the page of the one job instead.
_TO_GUEST = frozenset({"home.show", "jobs.show", "joints.show"})

#: What may be larger than a form. [bytes]
LARGE = {
    "photos.take": LARGEST_PHOTO_BYTES + 100_000,
    "jobs.bring_in": 60_000_000,
    "signing.sign": 8_000_000,  # a reason for each point that is missing at a thousand joints
    # A page of a phone holds the largest signature, which then goes alone.
    "phone_server.send": 16_000_000,
}

#: On one's own machine.
OWNER = Person("", "", "lead")


def people() -> People:
    """Those who may enter this copy. A phone has no such file, and no such pages."""
    store: People | None = current_app.extensions.get("people")
    if store is None:
        path = current_app.config["PEOPLE_PATH"]
        if path is None and not current_app.config["LISTENS_BEYOND"]:
            abort(404)
        store = current_app.extensions.setdefault("people", People(path))
    return store


def asker() -> Person | None:
    """Who is asking; the owner on one's own machine or phone, None before logging in."""
    if not current_app.config["LISTENS_BEYOND"]:
        owner: Person = current_app.config.get("OWNER", OWNER)
        return owner
    if "asker" not in g:
        g.asker = people().seated(session.get("seat", ""), clock.now_ms())
    found: Person | None = g.asker
    return found


def note(what: str, about: str = "", *, who: str | None = None) -> None:
    """Write down what the asker did, where people log in."""
    if current_app.config["LISTENS_BEYOND"]:
        if who is None:
            person = asker()
            who = person.name if person else ""
        people().note(clock.now_ms(), who, what, about, str(request.remote_addr or ""))


def whence() -> str:
    """What wrong tries are counted under: the address that asks.

    Of IPv6 it is the network, as one line has all of its 2⁶⁴ addresses.
    """
    given = str(request.remote_addr or "")
    with suppress(ValueError):
        if (address := ipaddress.ip_address(given)).version == 6:
            return str(ipaddress.ip_network((address, 64), strict=False))
    return given


def wait_words(wait_ms: int) -> tuple[Text, Text]:
    """What is said to who must wait after wrong tries: what is wrong, and what to do."""
    time = Span(max(1, -(-wait_ms // 60_000)))
    return say("There were several wrong tries."), say("Wait {time}, then try again.", time=time)


def tally(new: int, already: int, refused: int) -> str:
    """What became of entries that were sent, in numbers, as ``note`` keeps it."""
    return f"{new} new, {already} here already, {refused} refused"


def may_role(role: str, endpoint: str) -> bool:
    """Whether that role, "" before logging in, may use an endpoint; one not listed nobody may."""
    if endpoint not in LEAST:
        return False
    least = LEAST[endpoint]
    return least is None or (role in ROLES and ROLES.index(role) >= ROLES.index(least))


def may(person: Person | None, endpoint: str) -> bool:
    """Whether a person may use an endpoint at all."""
    return may_role(person.role if person else "", endpoint)


def may_enter(flow: str) -> bool:
    """Whether who is asking may go on with a flow, or with the card; a guest keeps to a few."""
    person = asker()
    return person is None or person.role != "guest" or flow in GUEST_FLOWS | {"card"}


def host_name(host: str) -> str:
    """The name in a ``Host`` header, without its port; empty where it is none.

    Examples
    --------
    >>> host_name("Crew.example:8080"), host_name("[::1]"), host_name("a:b:c"), host_name("a@b")
    ('crew.example', '::1', '', '')
    """
    try:
        parts = urlsplit(f"//{host}")
        name, _ = parts.hostname or "", parts.port  # a port that is none is a ValueError
    except ValueError:
        return ""
    return name if parts.netloc == host and "@" not in host else ""


def attach(app: Flask) -> None:
    """Let every request pass the gate, and tell the pages who is there."""

    @app.before_request
    def gate() -> Response | None:
        hosts = app.config["HOSTS"]
        if hosts and host_name(request.environ.get(ASKED_HOST, request.host)) not in hosts:
            abort(421)  # a page of another name that was pointed at this machine
        endpoint = request.endpoint
        if endpoint in LARGE:  # before the form is read for its token
            request.max_content_length = LARGE[endpoint]
            if endpoint == "signing.sign":  # all of it is text, and kept in memory
                request.max_form_memory_size = LARGE[endpoint]
        if not app.config["LISTENS_BEYOND"] or endpoint is None:
            return None
        person = asker()
        if may(person, endpoint):
            return guest_gate(person, endpoint) if person and person.role == "guest" else None
        if person is not None or endpoint not in LEAST:
            note("refused", f"{request.method} {request.path}")
            abort(403)
        if request.method == "GET" and not request.path.startswith(("/api/", "/phone/")):
            wanted = request.full_path.rstrip("?")
            return redirect(url_for("people.enter", next=wanted), 303)
        return abort(401)

    app.jinja_env.globals.update(may_role=may_role)

    @app.context_processor
    def who() -> dict[str, object]:
        beyond = app.config["LISTENS_BEYOND"]
        person = asker() if beyond else OWNER
        return {
            "asker": person if beyond else None,
            "asker_role": person.role if person else "",
            "allowed": lambda name: may(person, name),
            "may_enter": may_enter,
        }


def guest_gate(person: Person, endpoint: str) -> Response | None:
    """Keep a guest to the one job: any other looks as if it were not there."""
    seen = request.view_args or {}
    if "job" in seen and seen["job"] != person.job:
        abort(404)
    if "joint" in seen:
        joint = joblog().joint(seen["joint"])
        if joint is None or joint.job != person.job:
            abort(404)
    elsewhere = "flow" in seen and seen["flow"] not in GUEST_FLOWS and endpoint != "steps.answer"
    if endpoint in _TO_GUEST or (elsewhere and request.method == "GET"):
        return redirect(url_for("people.guest", job=person.job), 303)
    if elsewhere:
        abort(403)
    return None
