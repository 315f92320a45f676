"""Whether a record is as it was made: asked by whoever holds it, who has no account.

The address holds the job's id, how many entries the record was made from, and their digest. The
answer says whether the log holds just these, how many came since, and whether the seals hold: no
name, no place, nothing of the job.
"""

from __future__ import annotations

from flask import Blueprint, render_template

from fieldkit.joblog.entry import entry_digest
from fieldkit.joblog.signing import all_entries, check, whole_digest
from fieldkit.web.look import joblog

pages = Blueprint("check", __name__, url_prefix="/check")

#: The largest job that is worked out for somebody who has not logged in. [entries]
MOST_ENTRIES = 3_000


@pages.get("/<job>/<int:entries>/<digest>")
def show(job: str, entries: int, digest: str) -> tuple[str, int]:
    """Whether the first so many entries of a job have this digest."""
    found = joblog().job(job)
    too_large = found is not None and found.entries > MOST_ENTRIES
    if found is None or too_large or not 1 <= entries <= found.entries:
        return _page(digest, too_large=too_large), 404
    kept = all_entries(joblog(), job)
    first = kept[:entries]
    if whole_digest({one.id: entry_digest(one) for one in first}) != digest:
        return _page(digest), 404
    return _page(digest, entries=entries, since=len(kept) - entries, seals=check(first)), 200


def _page(digest: str, **said: object) -> str:
    return render_template("check.html", digest=digest[:64], said=said)
