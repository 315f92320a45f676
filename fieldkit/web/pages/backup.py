"""The backup as a page, for a lead who has no command line at hand; a phone has no such page."""

from __future__ import annotations

import secrets
from pathlib import Path

from flask import Blueprint, abort, current_app, render_template, url_for
from werkzeug.wrappers import Response

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import say
from fieldkit.joblog import upkeep
from fieldkit.joblog.backup import Place, backup
from fieldkit.web import beside, clock
from fieldkit.web.access import note
from fieldkit.web.create import people_file, photo_folder
from fieldkit.web.look import joblog
from fieldkit.web.pages.people import require_password
from fieldkit.web.secret import secret_file
from fieldkit.web.upkeep import upkeep_of

pages = Blueprint("backup", __name__, url_prefix="/backup")


def place_of(db: Path) -> Place:
    """Where a log and what belongs to it are kept."""
    return Place(db, people_file(db), photo_folder(db), secret_file(db))


def backup_page(problem: Problem | None = None) -> str:
    """What a backup holds, and the button that makes one."""
    path = joblog().path
    if path is None:
        abort(404)
    return render_template("backup.html", problem=problem, upkeep=upkeep_of(path, clock.now()))


@pages.get("")
def show() -> str:
    """What a backup holds."""
    return backup_page()


@pages.post("")
def make() -> tuple[str, int] | Response:
    """Copy everything to one file, beside the answers; who logs in gives the password again."""
    log, at = joblog(), clock.now()
    if log.path is None:
        abort(404)
    path, place = log.path, place_of(log.path)
    try:
        if current_app.config["LISTENS_BEYOND"]:
            require_password()
    except Problem as problem:
        return backup_page(problem), 422
    note("backup")

    def write(work: beside.Work) -> None:
        file = current_app.extensions["beside"].folder / f"{secrets.token_hex(16)}.zip"
        backup(log, place, file, at, work.tell)
        upkeep.note(path, "backup", at, "a page")
        name = f"fieldkit-{at[:16].replace(':', '')}.zip"
        work.file = file
        work.headers = {
            "Content-Type": "application/zip",
            "Content-Disposition": f'attachment; filename="{name}"',
            "Cache-Control": "no-store",
        }

    return beside.begin(say("A backup"), url_for("backup.show"), write)
