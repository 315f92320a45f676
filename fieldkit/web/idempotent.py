"""Saving what a form says: once however often it is sent, and nothing dropped in silence."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace

from flask import request

from fieldkit.joblog import Entry, JobLog
from fieldkit.joblog.door import require_fit
from fieldkit.web import clock
from fieldkit.web.ids import following_id, fresh_id, is_id


def entry_id_of_form() -> str:
    """The id made with the page, so that a double tap saves once."""
    given = request.form.get("entry", "")
    return given if is_id(given) else fresh_id()


def says_the_same(kept: Entry, made: Entry) -> bool:
    """Whether two entries say the same, whatever their ids and whenever they were made."""
    again = replace(kept, id=made.id, at=made.at)
    if made.kind == "reading":  # what was understood of it holds its time
        again = replace(again, understood=made.understood)
    return again == made


def once(log: JobLog, made: Entry, current: Entry | None = None) -> Entry | None:
    """The entry to add for a form that was sent, or None when it is saved already.

    A form carries the id of the entry it will make. Sent twice it saves once. Sent again with
    something else (the back button, a page kept by the browser) it makes a new entry, whose id
    follows from what stands now, so that this, too, saves once.

    Parameters
    ----------
    made : Entry
        What the form says, under the id it carries.
    current : Entry or None
        What stands now for the thing the form answers; the entry of that id when left out.
        So a person may change their mind and change it back, from the very same page.
    """
    earlier = log.entry(made.id)
    if earlier is None:
        return made
    standing = current or earlier.entry
    if says_the_same(standing, made):
        return None
    said = json.dumps([made.step, made.understood, made.note], sort_keys=True)
    new_id = following_id(standing.id, said)
    # A job and a joint go by the id of the entry that opened them.
    job = new_id if made.job == made.id else made.job
    joint = new_id if made.joint == made.id else made.joint
    return replace(made, id=new_id, job=job, joint=joint)


def keep(log: JobLog, entries: Sequence[Entry], received: str) -> None:
    """Add entries, after all that is here of their job, and speak up when one cannot be kept.

    A signature has been put in its turn before it was sealed.

    Raises
    ------
    Problem
        The log refuses an entry. One that is there already and says the same is no problem.
    """
    for entry in entries:
        require_fit(entry)
    entries = [
        one if one.kind == "signature" else replace(one, at=log.in_turn(one.job, one.at))
        for one in entries
    ]
    for entry_id, problem in log.append(entries, received=received).refused:
        mine = next(entry for entry in entries if entry.id == entry_id)
        earlier = log.entry(entry_id)
        # Two taps in the same instant: the first one is kept, and says the same.
        if earlier is None or not (mine.kind == "result" or says_the_same(earlier.entry, mine)):
            raise problem


def keep_once(log: JobLog, made: Entry, current: Entry | None = None) -> Entry:
    """Save what a form says, once; returns the entry that stands for it.

    Raises
    ------
    Problem
        The log refuses it.
    """
    entry = once(log, made, current)
    if entry is None:
        return made
    keep(log, [entry], received=clock.now())
    return entry
