"""The two halves of an exchange: entries that a phone sends, and those it has not seen yet.

Both are harmless to repeat. What was taken in is known by its id, and what was sent by its place
in the order of arrival, so an exchange that broke off goes on where it was.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict, replace
from datetime import datetime, timedelta
from typing import Any

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import say
from fieldkit.joblog import JobLog, JobNow, acceptance, marks
from fieldkit.joblog.acceptance import Rules
from fieldkit.joblog.entry import json_text
from fieldkit.joblog.read import Sealed
from fieldkit.joblog.rework import closed_joints

#: Entries of one page, either way.
PAGE = 500

#: Entries that are taken in together.
LOT = 50

#: On one's own machine.
OWN = Rules()


def take_in(
    log: JobLog,
    body: object,
    received: str,
    rules: Rules = OWN,
    enough: Callable[[], bool] = lambda: False,
) -> dict[str, Any]:
    """Add what a phone sent; says of each entry what became of it.

    Nothing is said of those that were not looked at because it was ``enough``: the phone sends
    them again, and meanwhile others have their turn.

    A page may name the ``company`` whose log the phone was taken along from.

    Raises
    ------
    Problem
        It is not a page of entries.
    """
    sent = body.get("entries") if isinstance(body, dict) else None
    if not isinstance(sent, list) or len(sent) > PAGE:
        raise Problem(
            "entries",
            None,
            say("This is not a page of entries."),
            say("Send up to {n} entries in a list.", n=PAGE),
        )
    company = body.get("company") if isinstance(body, dict) else None
    named = company if isinstance(company, str) else None
    # A phone that sends all it has once more sends what this server said of entries, too.
    told = [str(one["id"])[:120] for one in sent if marks.is_told(one)]
    sent = [one for one in sent if not marks.is_told(one)]
    rules = replace(rules, from_company=named)
    kept, refused = told, []
    for n in range(0, len(sent), LOT):
        done = acceptance.take_in(log, sent[n : n + LOT], rules, received, n)
        kept += [*done.stored, *done.already]
        refused += [{"id": one, "problem": problem.as_dict()} for one, problem in done.refused]
        if enough():
            break
    return {"kept": kept, "refused": refused}


def page_since(
    log: JobLog, seq: int, limit: int = PAGE, *, seen: int | None = None
) -> dict[str, Any]:
    """The entries that arrived after ``seq``, in order, then what this log says of them.

    ``upto`` is where the next page begins. ``last`` is the place of the last entry of all: when
    a phone has seen further than that, this log is an older copy, and the phone begins again.

    Parameters
    ----------
    seen : int or None
        How many entries there were in the head that the phone saw last, 0 for none yet. It gets
        each entry as the text that is kept here, with when it arrived, for a browser would write
        numbers in its own way; and the head of now with what leads there from the one it saw.
        None: an older phone, which reads entries as values.
    """
    last = log.count()
    most = min(max(limit, 1), PAGE) if seq <= last else 0
    page = log.texts_since(seq, most)
    about = {"upto": page[-1].seq if page else seq, "last": last}
    if seen is None:
        said = [one.as_json() for one in log.marks_of([one.id for one in page])]
        return {**about, "entries": [*(json.loads(one.text) for one in page), *said]}
    return {**about, **_texts(log, page), "head": head_since(log, seen)}


def head_since(log: JobLog, seen: int) -> dict[str, Any]:
    """The head of now, with what leads there from the one of ``seen`` entries."""
    head, proof = log.grown_since(seen)
    return {**asdict(head), "proof": proof}


def _texts(log: JobLog, page: Sequence[Sealed]) -> dict[str, Any]:
    """Entries as they are kept, with when they arrived, then what this log says of them.

    Their ids stand beside them, so that a phone keeps the texts without reading each.
    """
    said = [one.as_json() for one in log.marks_of([one.id for one in page])]
    return {
        "entries": [
            *([one.text, one.received] for one in page),
            *([json_text(one), ""] for one in said),
        ],
        "ids": [*(one.id for one in page), *(one["id"] for one in said)],
    }


# ── What a phone takes along ────────────────────────────────────────────────────────────────


def for_the_field(log: JobLog, days: int, most: int, now: str) -> dict[str, Any]:
    """Which jobs a phone takes along, the ones touched last first, and what it does without.

    Parameters
    ----------
    days : int
        A finished job that was not touched for so long stays here; an open one goes along.
    most : int
        About so many entries go along: the job that fills them is the last.
    now : str
        The time, as ``Entry.at``.

    Returns
    -------
    dict
        ``jobs``: their ids; ``left``: how many jobs stay here; ``last``: the place of the last
        entry of all; ``found``: of the jobs that stay here, which causes of failures were found
        out, and when, as diagnoses go by them.
    """
    last = log.count()
    since = (datetime.fromisoformat(now) - timedelta(days=days)).isoformat()
    taken: dict[str, None] = {}
    room = most
    for job in _by_last(log):
        if room <= 0:
            break
        if job.closed and job.last_at < since:
            continue
        taken[job.id] = None
        room -= job.entries
    found = [
        [one.fact_times.get("leak.really", ""), one.id, one.facts["leak.really"]]
        for one in closed_joints(log)
        if one.job not in taken
    ]
    left = log.job_count() - len(taken)
    return {"jobs": list(taken), "left": left, "last": last, "found": found}


def _by_last(log: JobLog) -> Iterator[JobNow]:
    after = None
    while page := log.jobs(PAGE, after):
        yield from page
        after = page[-1].after


def whole_jobs(log: JobLog, jobs: Sequence[str], seq: int, limit: int = PAGE) -> dict[str, Any]:
    """All entries of jobs, one job after the other; those of no job are under the empty name.

    Parameters
    ----------
    seq : int
        How far the first of them was sent before.

    Returns
    -------
    dict
        ``entries``, as in ``page_since``; ``whole``: how many of the jobs are sent to their end;
        ``upto``: where the one after those goes on.
    """
    page: list[Sealed] = []
    for n, job in enumerate(jobs):
        room = limit - len(page)
        found = log.texts_since(seq, room, job_id=job)
        page += found
        if len(found) == room:
            return {**_texts(log, page), "whole": n, "upto": found[-1].seq}
        seq = 0
    return {**_texts(log, page), "whole": len(jobs), "upto": 0}
