"""The record of a job: a page made for print, a PDF, and one file that opens anywhere."""

from __future__ import annotations

import re
import unicodedata
from base64 import b64encode
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from importlib.util import find_spec
from typing import get_args

from flask import Blueprint, abort, current_app, request, url_for
from markupsafe import Markup
from werkzeug.wrappers import Response as AnyResponse

from fieldkit.engine.words import Text, say
from fieldkit.flows.localize import localize
from fieldkit.joblog import JobNow
from fieldkit.joblog.record import Record, record_of
from fieldkit.tables.load import source_titles
from fieldkit.web import beside, clock
from fieldkit.web.folders import shared_folder
from fieldkit.web.localize import language, local_time
from fieldkit.web.look import joblog
from fieldkit.web.pages.common import job_or_404
from fieldkit.web.paper import Paper, record_pdf
from fieldkit.web.photos import photos
from fieldkit.web.qr import qr_svg

#: The style sheets that go into the file that opens anywhere.
LOOKS = ("colours", "page", "lists", "strip", "answers", "drawings", "crew", "print")

pages = Blueprint("record", __name__, url_prefix="/job/<job>")


def record_or_404(job: str, tell: beside.Tell) -> Record:
    """The record of the job at this address."""
    log = joblog()
    head = current_app.config["HEAD"] if "HEAD" in current_app.config else log.head()
    found = record_of(log, job, clock.now(), head, tell)
    if found is None:
        abort(404)
    return found


@cache
def can_make(package: str) -> bool:
    """Whether this copy has what draws papers or codes; a phone does without."""
    return find_spec(package) is not None


def in_words(at: str) -> str:
    """A kept time in this machine's zone."""
    local = datetime.fromisoformat(at).astimezone()
    return local_time(local, local.tzname() or "")


def file_name(job: JobNow, what: Text) -> str:
    """A file's name without its ending: what it is, the job, and the day, in plain letters.

    Examples
    --------
    >>> _plain_name("Peña’s  yard, box ½")
    'Penas-yard-box-1-2'
    """
    told = _plain_name(localize(what)).lower()
    return f"{told}-{_plain_name(job.name)[:60] or job.id}-{clock.now()[:10]}"


def _plain_name(words: str) -> str:
    spelt = unicodedata.normalize("NFKD", words).replace("\u2044", "-")
    ascii_only = spelt.replace("’", "").encode("ascii", "ignore").decode()
    return re.sub(r"[^A-Za-z0-9]+", "-", ascii_only).strip("-")


@dataclass(frozen=True, slots=True)
class Check:
    """Where whoever holds a record checks it, without an account; no code on a phone."""

    address: str
    link: str
    code: Markup


def check_of(record: Record, *, whole: bool) -> Check:
    """The check of a record; a file that stands by itself links to the ``whole`` address."""
    path = url_for("check.show", job=record.job.id, entries=record.entries, digest=record.digest)
    address = request.host_url.rstrip("/") + path
    says = localize(say("Check this record"))
    code = qr_svg(address, says) if can_make("segno") else Markup("")
    return Check(address, address if whole else path, code)


def as_file(
    job: str, mimetype: str, ending: str, make: Callable[[beside.Tell], Iterable[str | bytes]]
) -> AnyResponse:
    """The record as a file to keep; that of a large job is made beside."""
    found = job_or_404(job)
    name = file_name(found, say("record"))
    headers = {
        "Content-Type": mimetype,
        "Content-Disposition": f'attachment; filename="{name}.{ending}"',
        "Cache-Control": "no-store",
    }
    title, back = say("The record"), url_for("jobs.show", job=job)
    return beside.handed_over(title, back, headers, found.entries, make)


@pages.get("/record")
def show(job: str) -> str | AnyResponse:
    """The record as a page, made for print; that of a large job is made beside."""

    def address(joint: str, digest: str) -> str:
        return url_for("photos.image", joint=joint, photo=digest) if photos().has(digest) else ""

    def make(progress: beside.Tell) -> Iterator[str]:
        record = record_or_404(job, progress)
        return beside.drawn(
            "record.html",
            progress,
            record.entries,
            record=record,
            check=check_of(record, whole=False),
            filename=file_name(record.job, say("record")),
            photo=address,
            titles=source_titles(),
            papers=can_make("fpdf"),
        )

    back = url_for("jobs.show", job=job)
    return beside.page(say("The record"), back, job_or_404(job).entries, make)


@pages.get("/record.<paper>.pdf")
def pdf(job: str, paper: str) -> AnyResponse:
    """The record as a PDF, Letter or A4."""
    known: Paper | None = next((one for one in get_args(Paper) if one == paper), None)
    if known is None or not can_make("fpdf"):
        abort(404)

    def make(progress: beside.Tell) -> list[bytes]:
        record = record_or_404(job, progress)
        made = record_pdf(
            record,
            known,
            photos().read,
            in_words,
            language=language(),
            check=check_of(record, whole=True).address,
            tell_how_far=progress,
        )
        return [made]

    return as_file(job, "application/pdf", "pdf", make)


@pages.get("/record.html")
def whole(job: str) -> AnyResponse:
    """The record as one file with its looks and photos inside, to be opened without us."""
    static = shared_folder("static")
    looks = "\n".join((static / f"{name}.css").read_text(encoding="utf-8") for name in LOOKS)

    def inside(joint: str, digest: str) -> str:
        data = photos().read(digest)
        return f"data:image/jpeg;base64,{b64encode(data).decode()}" if data else ""

    def make(progress: beside.Tell) -> Iterator[str]:
        record = record_or_404(job, progress)
        return beside.drawn(
            "record_file.html",
            progress,
            record.entries,
            record=record,
            check=check_of(record, whole=True),
            photo=inside,
            titles=source_titles(),
            looks=looks,
        )

    return as_file(job, "text/html; charset=utf-8", "html", make)


@pages.get("/labels")
def labels(job: str) -> str | AnyResponse:
    """A sheet of labels: each opens its joint's page when it is scanned; a large one beside."""
    found = job_or_404(job)
    if not can_make("segno"):
        abort(404)

    def make(progress: beside.Tell) -> Iterator[str]:
        made = []
        for n, joint in enumerate(joblog().joints(job), start=1):
            address = url_for("joints.show", joint=joint.id, _external=True)
            made.append((joint, qr_svg(address, joint.name)))
            progress(n, found.joints)
        return beside.drawn("labels.html", progress, found.joints, job=found, labels=made)

    # Drawing a code takes as long as reading some fifty entries.
    return beside.page(say("Labels"), url_for("jobs.show", job=job), 50 * found.joints, make)
