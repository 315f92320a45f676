"""What only a server answers: the kit to fetch, and the exchange of entries."""

from __future__ import annotations

import json
import time

from flask import Blueprint, Flask, Response, abort, current_app, jsonify, request, send_file
from flask_wtf.csrf import generate_csrf
from werkzeug.wrappers import Response as AnyResponse

from fieldkit.engine.problems import Problem
from fieldkit.joblog import acceptance
from fieldkit.joblog.piecewise import require_few_parts
from fieldkit.phone import exchange, hook, runtime
from fieldkit.phone import pages as both
from fieldkit.phone.kit import Kit
from fieldkit.phone.photos import LARGEST_PART, take_part
from fieldkit.web import clock
from fieldkit.web.access import note
from fieldkit.web.create import shared_folder
from fieldkit.web.errors import problem_json
from fieldkit.web.look import joblog
from fieldkit.web.pages.photos import as_image
from fieldkit.web.photos import FolderPhotos, naming, photos
from fieldkit.web.who import rules_of_asker, signature_of_asker

pages = Blueprint("phone_server", __name__)

#: Jobs that a phone may name at a time, so that the address stays short.
MOST_JOBS = 40

#: Addresses that name their contents may be kept for good.
_FOR_GOOD = "public, max-age=31536000, immutable"

#: How long one page of entries keeps the others waiting; what is left of it is sent again. [s]
_TAKING_S = 0.4


def attach(app: Flask) -> None:
    """Let phones take this application to the field."""
    app.register_blueprint(both.pages)
    app.register_blueprint(pages)
    app.extensions["phone_kit"] = Kit(runtime.runtime_folder())
    hook.attach(app)


def kit() -> Kit:
    """The kit of the application that is answering."""
    found: Kit = current_app.extensions["phone_kit"]
    return found


@pages.get("/sw.js")
def worker() -> AnyResponse:
    """The script that answers for the network. It lies at the root, so that it may."""
    path = shared_folder("static") / "phone" / "sw.js"
    response = send_file(path, mimetype="text/javascript")
    response.headers["Cache-Control"] = "no-cache"
    return response


@pages.get("/phone/about.json")
def about() -> Response:
    """What the kit is made of, once it is, and which log and person it is for."""
    return jsonify(
        {
            **kit().about(),
            "exchange": True,
            "log": current_app.config["LOOSE_JOB"],
            "who": signature_of_asker(),
            "company": current_app.config["COMPANY"],
            "now": clock.now_ms(),
        }
    )


@pages.get("/phone/small/<name>.gz")
@pages.get("/phone/pack/<name>.gz")
@pages.get("/phone/library/<name>.gz")
@pages.get(f"/phone/runtime/{runtime.PIN}/<name>.gz")
def part(name: str) -> AnyResponse:
    """A part of the kit, packed; from any place in it, so that a fetch can be taken up again."""
    body = kit().packed(request.path[1:].removesuffix(".gz")) if kit().ready else None
    if body is None:
        abort(404)
    response = Response(body, mimetype="application/gzip")
    response.headers["Cache-Control"] = _FOR_GOOD
    response.add_etag()
    return response.make_conditional(request.environ, accept_ranges=True, complete_length=len(body))


@pages.get("/phone/token")
def token() -> Response:
    """The token that a phone sends its entries with; it belongs to the session of the asker."""
    return jsonify({"token": generate_csrf()})


@pages.post("/phone/send")
def send() -> Response | tuple[Response, int]:
    """Take in a page of entries from a phone; the head of the log then, if it says what it saw.

    It keeps that with what it now knows to be here: a log that is put back from a copy of before
    they came cannot pass for the one that has them.
    """
    try:
        text = (request.get_data() or b"null").decode()
        require_few_parts(text)
        body = json.loads(text)
        until = time.monotonic() + _TAKING_S
        answer = exchange.take_in(
            joblog(), body, clock.now(), rules_of_asker(), lambda: time.monotonic() > until
        )
    except (ValueError, RecursionError) as error:
        if isinstance(error, Problem):
            return problem_json(error, 422)
        abort(400)
    if answer["refused"]:
        note("refused", f"{len(answer['refused'])} entries of a phone, {len(answer['kept'])} kept")
    seen = request.args.get("seen", type=int)
    return jsonify(
        answer if seen is None else answer | {"head": exchange.head_since(joblog(), seen)}
    )


@pages.get("/phone/since")
def since() -> Response | tuple[Response, int]:
    """The entries that a phone has not seen yet, a page at a time.

    A phone that was taken along from another company's log gets none of this one.
    """
    if anothers := another_company():
        return anothers
    seq = _number("seq")
    seen = request.args.get("seen", type=int)
    return jsonify(exchange.page_since(joblog(), seq, seen=seen))


def another_company() -> tuple[Response, int] | None:
    """What is said to a phone that was taken along from another company's log."""
    if request.args.get("company") in {None, current_app.config["COMPANY"]}:
        return None
    return problem_json(acceptance.another_company(request.args["company"]), 409)


def _number(name: str) -> int:
    return min(max(request.args.get(name, 0, type=int), 0), 1 << 53)


@pages.get("/phone/jobs")
def jobs() -> Response | tuple[Response, int]:
    """Which jobs a phone takes along by its limits; or all entries of jobs that it names."""
    if anothers := another_company():
        return anothers
    if "of" in request.args:
        named = request.args.getlist("of")[:MOST_JOBS]
        return jsonify(exchange.whole_jobs(joblog(), named, _number("seq")))
    days, most = min(_number("days"), 36_500), _number("most")
    return jsonify(exchange.for_the_field(joblog(), days, most, clock.now()))


@pages.get("/phone/photo/<digest>")
def photo(digest: str) -> AnyResponse:
    """A photo for a phone that has its entry; it checks the bytes by their digest."""
    data = photos().read(digest)
    if data is None:
        abort(404)
    return as_image(digest, data)


@pages.post("/phone/photo/<digest>")
def take_photo(digest: str) -> Response | tuple[Response, int]:
    """Take in a part of a photo; the answer says how much of it is here."""
    request.max_content_length = LARGEST_PART
    store = photos()
    if not isinstance(store, FolderPhotos):
        abort(404)
    named = None
    try:
        named = naming(joblog(), digest)
        start = request.args.get("from", 0, type=int)
        done = take_part(store, named, start, request.get_data())
    except Problem as problem:
        if named is not None:
            refused = (named.id, "", acceptance.reason(problem), signature_of_asker())
            joblog().set_aside([refused], clock.now())
        return problem_json(problem, 422)
    return jsonify({"have": done.have, "whole": done.whole})
