"""The reader's language, units and light: chosen here once, kept in cookies."""

from __future__ import annotations

from flask import Blueprint, redirect, render_template, request
from werkzeug.wrappers import Response

from fieldkit.engine.words import say
from fieldkit.web.localize import LANGUAGE_COOKIE, LANGUAGES, UNITS, UNITS_COOKIE
from fieldkit.web.look import LIGHT_COOKIE, LIGHTS
from fieldkit.web.safe import local_path

pages = Blueprint("choices", __name__)

#: What the cookies may hold. Anything else that is sent means: as the phone says.
KNOWN = {LANGUAGE_COOKIE: tuple(LANGUAGES), UNITS_COOKIE: UNITS, LIGHT_COOKIE: LIGHTS}

#: Each system by the units that people know it by.
UNIT_WORDS = {
    "inch": say("Inches, psi, °F"),
    "metric": say("Millimeters, bar, °C"),
}


@pages.get("/choices")
def show() -> str:
    """In which words, in which units, in which light?"""
    return render_template(
        "choices.html",
        chosen={name: request.cookies.get(name, "") for name in KNOWN},
        unit_words=UNIT_WORDS,
        back=local_path(request.args.get("back", "")),
    )


@pages.post("/choices")
def take() -> Response:
    """Keep what was chosen and go back; what the form does not name stays as it is."""
    back = redirect(local_path(request.form.get("back", "")), 303)
    for cookie, known in KNOWN.items():
        given = request.form.get(cookie)
        if given in known:
            back.set_cookie(
                cookie,
                given,
                max_age=365 * 24 * 3600,
                httponly=True,
                samesite="Lax",
                secure=request.is_secure,
            )
        elif given is not None:
            back.delete_cookie(cookie, httponly=True, samesite="Lax", secure=request.is_secure)
    return back
