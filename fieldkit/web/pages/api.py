"""The calculations over HTTP: ``POST /api/NAME``, the same shapes as the command line."""

from __future__ import annotations

import json

from flask import Blueprint, Response, jsonify, request

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import say
from fieldkit.flows.calculations import CALCULATIONS, calculate, calculation
from fieldkit.web.errors import problem_json
from fieldkit.web.pages.api_document import document

pages = Blueprint("api", __name__, url_prefix="/api")


@pages.get("/")
def names() -> Response:
    """The names of the calculations."""
    return jsonify({"calculations": list(CALCULATIONS)})


@pages.get("/openapi.json")
def description() -> Response:
    """What each calculation takes and answers, as OpenAPI 3.1."""
    return jsonify(document())


@pages.post("/<name>")
def answer(name: str) -> Response | tuple[Response, int]:
    """Answer one calculation; 422 with a problem when the request cannot be answered."""
    try:
        calculation(name)
    except Problem as problem:
        return problem_json(problem, 404)
    try:
        body = json.loads(request.get_data() or b"null")
    except (ValueError, RecursionError):
        broken = Problem(
            "request",
            None,
            say("This is not JSON."),
            say("Send a JSON object, such as {example}.", example='{"od": "0.700 in"}'),
        )
        return problem_json(broken, 400)
    try:
        return jsonify(calculate(name, body).as_json())
    except Problem as problem:
        return problem_json(problem, 422)
