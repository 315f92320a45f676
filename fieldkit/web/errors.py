"""Every error as a plain page or as the API's one shape; never a bare stack."""

from __future__ import annotations

from flask import Flask, Response, jsonify, render_template, request
from flask_wtf.csrf import CSRFError
from werkzeug.exceptions import HTTPException

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import say

#: status → (heading, what to do)
PAGES = {
    400: (say("That could not be read"), say("Go back and send it once more.")),
    401: (say("Log in first"), say("You were away for long, or logged out elsewhere.")),
    403: (say("That is not open to you"), say("Go back, or ask a crew lead.")),
    404: (
        say("There is nothing at this address"),
        say("It may be mistyped, or belong to another copy."),
    ),
    405: (say("That address works another way"), say("Go back and use the buttons on the page.")),
    413: (say("That is too large"), say("Send something shorter.")),
    421: (
        say("This server does not answer to that name"),
        say("Open it at the address that stands in your invitation, or ask a crew lead for it."),
    ),
    429: (say("Too many tries"), say("Wait a minute, then try again.")),
    500: (
        say("Something went wrong on our side"),
        say("Nothing saved was lost. Go back and try again."),
    ),
}


def wants_json() -> bool:
    """Whether the request speaks to the JSON side."""
    return request.path.startswith("/api/")


def problem_json(problem: Problem, status: int) -> tuple[Response, int]:
    """A problem in the API's one shape."""
    return jsonify({"problem": problem.as_dict()}), status


def attach(app: Flask) -> None:
    """Handle every HTTP error, a broken token, and anything unforeseen."""

    @app.errorhandler(CSRFError)
    def broken_token(error: CSRFError) -> tuple[str, int]:
        heading = say("This page was open too long")
        advice = say("Go back, reload the page and send it once more. Nothing was changed.")
        return render_template("problem_page.html", heading=heading, advice=advice), 400

    @app.errorhandler(HTTPException)
    def http_error(error: HTTPException) -> tuple[Response | str, int, dict[str, str]]:
        status = error.code or 500
        # What works instead: RFC 9110 wants it of every 405.
        kept = {name: value for name, value in error.get_headers() if name == "Allow"}
        heading, advice = PAGES.get(status, PAGES[400] if status < 500 else PAGES[500])
        if wants_json():
            problem = Problem("request", None, say(heading + "."), say(advice))
            return *problem_json(problem, status), kept
        return render_template("problem_page.html", heading=heading, advice=advice), status, kept

    @app.errorhandler(Problem)
    def problem(error: Problem) -> tuple[Response | str, int]:
        if wants_json():
            return problem_json(error, 422)
        page = render_template("problem_page.html", heading=error.wrong, advice=error.instead)
        return page, 422

    @app.errorhandler(Exception)
    def unforeseen(error: Exception) -> tuple[Response | str, int]:
        if app.testing:
            raise error
        app.logger.exception("unforeseen error at %r", request.path)
        heading, advice = PAGES[500]
        if wants_json():
            return problem_json(Problem("request", None, say(heading + "."), say(advice)), 500)
        return render_template("problem_page.html", heading=heading, advice=advice), 500
