"""Make the Flask application: one log, one secret, and the pages."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import SplitResult, urlsplit

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
    check,
    choices,
    crew,
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

if TYPE_CHECKING:
    from _typeshed.wsgi import StartResponse, WSGIApplication, WSGIEnvironment

__all__ = ["Settings", "create_app", "loose_job", "people_file", "photo_folder", "shared_folder"]

#: A form is short text; photos have their own limit where they are taken in.
LARGEST_FORM_BYTES = 1_000_000


@dataclass(frozen=True, slots=True)
class Settings:
    """Where this copy keeps its log, and what it is allowed to do."""

    db_path: Path | None = None  # None: in memory, for tests
    secret: str = ""
    testing: bool = False
    #: Others can reach it: everyone logs in.
    listens_beyond: bool = False
    #: The names that it answers to; none given, to any.
    hosts: frozenset[str] = frozenset()
    #: Where others reach it, "https://crew.example". It answers to no other name then, and all
    #: that leads here from outside (invitations, codes) leads there; with HTTPS cookies travel
    #: no other way.
    public_url: str = ""


def people_file(db_path: Path) -> Path:
    """Where those who may enter are kept: beside the log, never inside it."""
    return db_path.with_suffix(".people")


def photo_folder(db_path: Path) -> Path:
    """Where the photos are kept: a folder beside the log."""
    return db_path.with_name(f"{db_path.stem}-photos")


def loose_job(secret: str) -> str:
    """The job of joints that nobody named one for: one such job a copy, so copies never mix."""
    return following_id("01000000-0000-7000-8000-000000000000", f"loose {secret}")


def addressed_as(answer: WSGIApplication, public: SplitResult) -> WSGIApplication:
    """Let every request be at the public address, whatever the server in front forgot to pass on.

    ``ASKED_HOST`` keeps the name that was really asked for: ``access`` refuses a strange one.
    """

    def at_public(environ: WSGIEnvironment, start: StartResponse) -> Iterable[bytes]:
        environ[access.ASKED_HOST] = environ.get("HTTP_HOST", "")
        environ["wsgi.url_scheme"], environ["HTTP_HOST"] = public.scheme, public.netloc
        return answer(environ, start)

    return at_public


class _Application(Flask):
    jinja_environment = look.Templates

    def ensure_sync(self, func: Callable[..., Any]) -> Callable[..., Any]:
        """``func`` itself: nothing here is a coroutine, and a page would ask that of fifteen."""
        return func


def create_app(settings: Settings) -> Flask:
    """The application, with no state at module level: a test or a phone can make its own."""
    app = _Application(
        "fieldkit",
        static_folder=str(shared_folder("static")),
        template_folder=str(shared_folder("templates")),
    )
    secret = settings.secret or (
        secret_beside(settings.db_path) if settings.db_path else secrets.token_hex(32)
    )
    public = urlsplit(settings.public_url)
    secure = public.scheme == "https"
    app.config.update(
        SECRET_KEY=secret,
        TESTING=settings.testing,
        MAX_CONTENT_LENGTH=LARGEST_FORM_BYTES,
        MAX_FORM_MEMORY_SIZE=LARGEST_FORM_BYTES,
        MAX_FORM_PARTS=2_000,
        # With the prefix a browser holds it to this host, to HTTPS and to the whole site.
        SESSION_COOKIE_NAME="__Host-fieldkit" if secure else "fieldkit",
        SESSION_COOKIE_HTTPONLY=True,
        SESSION_COOKIE_SAMESITE="Lax",
        SESSION_COOKIE_SECURE=secure,
        # A form may lie open in a valve box for hours; the session bounds it, not a clock.
        WTF_CSRF_TIME_LIMIT=None,
        # Referrers are stripped by some phones; the token itself is what protects.
        WTF_CSRF_SSL_STRICT=False,
        LOOSE_JOB=loose_job(secret),
        LISTENS_BEYOND=settings.listens_beyond,
        HOSTS=frozenset({public.hostname}) if public.hostname else settings.hosts,
        PEOPLE_PATH=people_file(settings.db_path) if settings.db_path else None,
    )
    path = settings.db_path
    log = JobLog.open(path) if path else JobLog.memory()
    app.extensions["joblog"] = log
    app.extensions["photos"] = FolderPhotos(photo_folder(path)) if path else Photos()
    # A log in memory is nobody's in particular; a phone says whose it was taken along from.
    app.config["COMPANY"] = log.company if path else ""
    if public.hostname:
        app.wsgi_app = addressed_as(app.wsgi_app, public)  # type: ignore[assignment]
    localize.attach(app)  # first: what the gate refuses is told in the reader’s language, too
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
    of_crews = (people, signing, photos, record, check, crew)
    for room in (*rooms, *of_crews):
        app.register_blueprint(room.pages)
    csrf.exempt(api.pages)  # pure calculation: no session, no cookie, nothing is stored
    csrf.exempt(steps.pages)  # checks the token itself, to keep what was typed on the page
    look.attach(app)
    cautions.attach(app)
    headers.attach(app)
    sending.attach(app)
    attach_errors(app)
    return app
