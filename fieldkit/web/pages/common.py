"""What the pages of jobs and joints share: what an address names, and what a form says."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from typing import Any

from flask import Response, abort, request
from werkzeug.datastructures import FileStorage

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import Text, say
from fieldkit.joblog import Entry, JobNow, JointNow
from fieldkit.typed import answers
from fieldkit.web import clock
from fieldkit.web.idempotent import keep_once
from fieldkit.web.look import joblog
from fieldkit.web.who import signature_of_asker


def job_or_404(job: str) -> JobNow:
    """The job at this address."""
    found = joblog().job(job)
    if found is None:
        abort(404)
    return found


def joint_or_404(joint: str) -> JointNow:
    """The joint at this address."""
    found = joblog().joint(joint)
    if found is None:
        abort(404)
    return found


def need_text(box: str, limit: int, instead: Text) -> str:
    """What was typed in a box of the form that must not be empty.

    Raises
    ------
    Problem
        Nothing was typed; ``instead`` says what to do. Or it is too long.
    """
    typed = answers.read_text(request.form.get(box, ""), field=box, limit=limit)
    if not typed:
        raise Problem(box, "", say("This box is empty."), instead)
    return typed


def chosen_file() -> FileStorage:
    """The file that a form sent.

    Raises
    ------
    Problem
        None was chosen.
    """
    upload = request.files.get("file")
    if upload is None or not upload.filename:
        raise Problem("file", "", say("No file was chosen."), say("Choose a file first."))
    return upload


def csv_text(rows: Iterable[Iterable[object]]) -> str:
    """Rows as CSV, for a spreadsheet."""
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows(rows)
    return out.getvalue()


def download(text: str, kind: str, name: str) -> Response:
    """A text as a file to keep."""
    response = Response(text, mimetype=kind)
    response.headers["Content-Disposition"] = f'attachment; filename="{name}"'
    return response


def keep_form(entry_id: str, kind: str, **said: Any) -> Entry:
    """Save what a form says, once, as of now and by who asks; returns the entry that stands.

    Raises
    ------
    Problem
        The log refuses it.
    """
    made = Entry(id=entry_id, at=clock.now(), kind=kind, who=signature_of_asker(), **said)
    return keep_once(joblog(), made)


#: Joints on one page of a job: a page of thousands would keep everybody waiting.
JOINTS = 50


def joints_shown(job: JobNow) -> tuple[Sequence[JointNow], int | None, int | None]:
    """The joints of a job on the page that is asked for, the last ones if none is.

    With them where the pages before and after begin; None where there is none.
    """
    last = max(0, job.joints - JOINTS)
    first = min(max(0, request.args.get("from", last, type=int)), last)
    shown = joblog().joints(job.id, limit=JOINTS, skip=first)
    before = max(0, first - JOINTS) if first else None
    return shown, before, first + JOINTS if first < last else None
