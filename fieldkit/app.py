"""Joins the rooms into one application: ``flask --app fieldkit.app`` and ``fieldkit serve``."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from flask import Flask

from fieldkit.phone import serving
from fieldkit.phone.kit import Kit
from fieldkit.phone.runtime import Say, fetch_in_background, runtime_folder
from fieldkit.web import beside
from fieldkit.web.create import Settings, create_app
from fieldkit.web.pages import backup


def make_app(db_path: Path | None, **settings: Any) -> Flask:
    """The whole application over the log at ``db_path`` (in memory when None).

    ``settings`` are those of ``Settings``.
    """
    app = create_app(Settings(db_path=db_path, **settings))
    serving.attach(app)
    beside.attach(app)
    app.register_blueprint(backup.pages)
    return app


def prepare_phones(app: Flask, tell: Say) -> None:
    """While the server already answers, fetch what phones need, and build their kit."""
    kit: Kit = app.extensions["phone_kit"]
    fetch_in_background(runtime_folder(), tell, kit.about)
