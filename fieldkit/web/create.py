"""Make the Flask application: one log, one secret, and the pages."""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from pathlib import Path

from flask import Flask

from fieldkit.joblog import JobLog
from fieldkit.web import access, cautions, headers, localize, look, sending
from fieldkit.web.csrf import csrf
from fieldkit.web.errors import attach as attach_errors
from fieldkit.web.folders import shared_folder
from fieldkit.web.ids import following_id
from fieldkit.web.pages import (
    api,
    card,
    choices,
    diagnoses,
    face,
    gauge,
    home,
    jobs,
    joints,
    people,
    photos,
    pocket,
    prices,
    record,
    ruler,
    signing,
    steps,
)
from fieldkit.web.photos import FolderPhotos, Photos
from fieldkit.web.secret import secret_beside

__all__ = ["Settings", "create_app", "loose_job", "people_file", "photo_folder", "shared_folder"]

#: A form is short text; photos have their own limit where they are taken in.
LARGEST_FORM_BYTES = 1_000_000


@dataclass(frozen=True, slots=True)
class Settings:
    """Where this copy keeps its log, and what it is allowed to do."""

    db_path: Path | None = None  # None: in memory, for tests
    secret: str = ""
    testing: bool = False
    secure_cookies: bool = False
    #: Others can reach it: everyone logs in.
    listens_beyond: bool = False
    #: The names that it answers to; none given, to any.
    hosts: frozenset[str] = frozenset()


def people_file(db_path: Path) -> Path:
    """Where those who may enter are kept: beside the log, never inside it."""
    return db_path.with_suffix(".people")


def photo_folder(db_path: Path) -> Path:
    """Where the photos are kept: a folder beside the log."""
    return db_path.with_name(f"{db_path.stem}-photos")


def loose_job(secret: str) -> str:
    """The job of joints that nobody named one for: one such job a copy, so copies never mix."""
    return following_id("01000000-0000-7000-8000-000000000000", f"loose {secret}")


def create_app(settings: Settings) -> Flask:
    """The application, with no state at module level: a test or a phone can make its own."""
    app = Flask(
        "fieldkit",
        static_folder=str(shared_folder("static")),
        template_folder=str(shared_folder("templates")),
    )
    secret = settings.secret or (
        secret_beside(settings.db_path) if settings.db_path else secrets.token_hex(32)
    )
    app.config.update(
        SECRET_KEY=secret,
        TESTING=settings.testing,
        MAX_CONTENT_LENGTH=LARGEST_FORM_BYTES,
        MAX_FORM_MEMORY_SIZE=LARGEST_FORM_BYTES,
        MAX_FORM_PARTS=2_000,
        # With the prefix a browser holds it to this host, to HTTPS and to the whole site.
        SESSION_COOKIE_NAME="__Host-fieldkit" if settings.secure_cookies else "fieldkit",
        SESSION_COOKIE_HTTPONLY=True,
        SESSION_COOKIE_SAMESITE="Lax",
        SESSION_COOKIE_SECURE=settings.secure_cookies,
        # A form may lie open in a valve box for hours; the session bounds it, not a clock.
        WTF_CSRF_TIME_LIMIT=None,
        # Referrers are stripped by some phones; the token itself is what protects.
        WTF_CSRF_SSL_STRICT=False,
        LOOSE_JOB=loose_job(secret),
        LISTENS_BEYOND=settings.listens_beyond,
        HOSTS=settings.hosts,
        PEOPLE_PATH=people_file(settings.db_path) if settings.db_path else None,
    )
    path = settings.db_path
    log = JobLog.open(path) if path else JobLog.memory()
    app.extensions["joblog"] = log
    app.extensions["photos"] = FolderPhotos(photo_folder(path)) if path else Photos()
    # A log in memory is nobody's in particular; a phone says whose it was taken along from.
    app.config["COMPANY"] = log.company if path else ""
    access.attach(app)
    csrf.init_app(app)
    rooms = (
        home,
        jobs,
        joints,
        steps,
        pocket,
        prices,
        diagnoses,
        ruler,
        gauge,
        choices,
        api,
        face,
        card,
    )
    crew = (people, signing, photos, record)
    for room in (*rooms, *crew):
        app.register_blueprint(room.pages)
    csrf.exempt(api.pages)  # pure calculation: no session, no cookie, nothing is stored
    csrf.exempt(steps.pages)  # checks the token itself, to keep what was typed on the page
    look.attach(app)
    cautions.attach(app)
    localize.attach(app)
    headers.attach(app)
    sending.attach(app)
    attach_errors(app)
    return app
