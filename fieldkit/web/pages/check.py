"""Whether a record is as it was made: asked by whoever holds it, who has no account.

The address holds the job's id, how many entries the record was made from, and their digest. The
answer says whether the log holds just these, how many came since, and whether the seals hold: no
name, no place, nothing of the job.
"""

from __future__ import annotations

import time

from flask import Blueprint, current_app, render_template

from fieldkit.joblog.entry import entry_digest
from fieldkit.joblog.people import FREE_OF_ADDRESS
from fieldkit.joblog.signing import all_entries, check, whole_digest
from fieldkit.web import clock
from fieldkit.web.access import people, wait_words, whence
from fieldkit.web.look import joblog

pages = Blueprint("check", __name__, url_prefix="/check")

#: The largest job that is worked out for somebody who has not logged in. [entries]
MOST_ENTRIES = 3_000

#: An answer that was right is given again for so long without being worked out, as that takes half
#: a second of everybody's; and so many of them are kept. [s]
KEPT_S, MOST_KEPT = 60.0, 100


@pages.get("/<job>/<int:entries>/<digest>")
def show(job: str, entries: int, digest: str) -> tuple[str, int]:
    """Whether the first so many entries of a job have this digest.

    Who guesses must wait, by address, as at the login; a right one is never counted.
    """
    found = joblog().job(job)
    kept = current_app.extensions.setdefault("checked", {})
    asked = (job, entries, digest, found and found.entries)
    if asked in kept and time.monotonic() - kept[asked][0] < KEPT_S:
        return _page(digest, **kept[asked][1]), 200
    about = {f"check {whence()}": FREE_OF_ADDRESS}
    counts, now = current_app.config["LISTENS_BEYOND"], clock.now_ms()
    if counts and (wait := people().must_wait(about, now)) > 0:
        return _page(digest, tried=wait_words(wait)), 429
    if found is not None and found.entries > MOST_ENTRIES:
        return _page(digest, too_large=True), 404
    there = all_entries(joblog(), job) if found and 1 <= entries <= found.entries else ()
    first = there[:entries]
    if not first or whole_digest({one.id: entry_digest(one) for one in first}) != digest:
        if counts:
            people().wrong(about, now)
        return _page(digest), 404
    seals = [one.whole for one in check(first)]
    said = {"entries": entries, "since": len(there) - entries, "seals": seals}
    while len(kept) >= MOST_KEPT:
        del kept[next(iter(kept))]
    kept[asked] = (time.monotonic(), said)
    return _page(digest, **said), 200


def _page(digest: str, **said: object) -> str:
    return render_template("check.html", digest=digest[:64], said=said)
