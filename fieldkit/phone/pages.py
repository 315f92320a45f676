"""The pages that are the same on the server and on the phone: taking it to the field, shortcuts."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, Flask, Response, abort, jsonify, redirect, render_template, url_for
from jinja2 import FileSystemBytecodeCache
from werkzeug.wrappers import Response as AnyResponse

from fieldkit.engine.words import say
from fieldkit.flows.localize import localize
from fieldkit.phone import hook
from fieldkit.phone.photos import PhonePhotos
from fieldkit.phone.words import words_in
from fieldkit.web.create import Settings, create_app, shared_folder
from fieldkit.web.ids import fresh_id
from fieldkit.web.localize import LANGUAGES
from fieldkit.web.look import joblog

pages = Blueprint("phone", __name__)

#: Beside the templates, in a kit that was compiled: what they were compiled to.
TEMPLATE_CODE = "template_code"


def phone_app() -> Flask:
    """The application as a phone has it: its one person's own, so that nobody logs in."""
    app = create_app(Settings())
    code = shared_folder("templates").with_name(TEMPLATE_CODE)
    if code.is_dir():
        app.jinja_env.bytecode_cache = FileSystemBytecodeCache(str(code))
    app.extensions["photos"] = PhonePhotos()
    app.register_blueprint(pages)
    app.url_defaults(name_no_version)
    hook.attach(app, taken=True)
    return app


def name_no_version(endpoint: str, values: dict[str, Any]) -> None:
    """Name a phone's files plainly: the page that stands in and the one that takes its place alike.

    With other addresses, a style sheet would be read and applied twice.
    """
    values.pop("v", None)


@pages.get("/phone")
def show() -> str:
    """Take this tool to the field, and see what is kept here."""
    return render_template("phone/take.html")


@pages.get("/phone/shell")
def shell() -> str:
    """What stands in for a page while the phone's engine starts."""
    return render_template("phone/shell.html")


@pages.get("/phone/words/<language>.json")
def words(language: str) -> Response:
    """What the scripts say, in one language."""
    if language not in LANGUAGES:
        abort(404)
    return jsonify(words_in(language))


@pages.get("/phone/diagnose")
def diagnose() -> str:
    """The shortcut of the installed app: something is wrong with a joint."""
    return render_template("phone/diagnose.html", entry=fresh_id())


@pages.get("/phone/last")
def last() -> AnyResponse:
    """The shortcut of the installed app: go on with the job that was touched last."""
    found = joblog().jobs(limit=1)
    where = url_for("jobs.show", job=found[0].id) if found else url_for("jobs.listing")
    return redirect(where, 303)


@pages.get("/manifest.webmanifest")
def manifest() -> Response:
    """What a phone needs to put the app on its home screen."""
    icons = [
        {
            "src": url_for("static", filename=f"phone/icon-{size}.png"),
            "sizes": f"{size}x{size}",
            "type": "image/png",
            "purpose": purpose,
        }
        for size in (192, 512)
        for purpose in ("any", "maskable")
    ]
    response = jsonify(
        {
            "id": url_for("home.show"),
            "name": "fieldkit",
            "short_name": "fieldkit",
            "description": localize(
                say("Checklist and diagnosis where poly tubing meets PVC pipe")
            ),
            "start_url": url_for("home.show"),
            "scope": url_for("home.show"),
            "display": "standalone",
            "background_color": "#EDF1F3",
            "theme_color": "#EDF1F3",
            "icons": icons,
            "shortcuts": [
                {
                    "name": localize(say("Find what is wrong")),
                    "url": url_for("phone.diagnose"),
                    "icons": [icons[0]],
                },
                {
                    "name": localize(say("The last job")),
                    "url": url_for("phone.last"),
                    "icons": [icons[0]],
                },
            ],
        }
    )
    response.mimetype = "application/manifest+json"
    return response
