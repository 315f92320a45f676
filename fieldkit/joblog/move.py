"""A joint goes to another job: all of it is said again there, and closed where it stood.

Nothing is changed or wiped. The entries of the old place stay under the seals of their job; those
of the new place name the same people and times, and arrived when the joint was moved.
"""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from hashlib import sha256

from fieldkit.engine.words import Quote, say
from fieldkit.joblog.append import read_all
from fieldkit.joblog.entry import Entry, is_id, new_id
from fieldkit.joblog.log import JobLog
from fieldkit.joblog.read import JobNow, JointNow

_ID = re.compile(r"[0-9A-Za-z._-]{8,64}")

#: What is not said again: it is about the old place.
_LEFT_BEHIND = frozenset({"close"})


def _following(name: str, key: str, at: str, nth: int) -> str:
    """The id that follows from a name, at an instant and in its place among those of it."""
    at_ms = round(datetime.fromisoformat(at).timestamp() * 1000)
    return new_id(at_ms, sha256(f"{name} {key}".encode()).digest(), nth)


def _ids_of(old: Sequence[Entry], key: str) -> dict[str, str]:
    """Each id that entries go by, and the one that follows from it, in the same order of time."""
    found: dict[str, str] = {}
    last, nth = "", 0
    for one in sorted(old, key=lambda entry: (entry.at, entry.id)):
        nth = nth + 1 if one.at == last else 0
        last = one.at
        found[one.id] = _following(one.id, key, one.at, nth)
        if one.run and one.run not in found:
            found[one.run] = _following(one.run, key, one.at, 0)
    return found


def move(
    log: JobLog, joint: JointNow, to: JobNow, *, at: str, who: str, key: str, received: str
) -> None:
    """Move a joint, with what this copy says of its entries; all of it or nothing.

    Parameters
    ----------
    to : JobNow
        The job that it goes to, another than its own.
    at, who : str
        When it is moved, and by whom.
    key : str
        The id of the form that asks for it: sent twice, it moves once.
    received : str
        When that came in.

    Raises
    ------
    Problem
        An entry of it can be kept no more.
    """
    history = log.history(job_id=joint.job, joint_id=joint.id, limit=1 << 40)
    # Made in the same instant, they arrive here in the order in which they arrived there.
    old = [one.entry for one in sorted(history, key=lambda kept: (kept.entry.at, kept.seq))]
    ids = _ids_of(old, key)
    ids.setdefault(joint.id, _following(joint.id, key, joint.opened_at, 0))
    here = ids[joint.id]

    def other(found: re.Match[str]) -> str:
        return ids.get(found[0], found[0]) if is_id(found[0]) else found[0]

    made = []
    for one in old:
        if one.kind not in _LEFT_BEHIND:
            body = json.loads(_ID.sub(other, json.dumps(one.as_json())))
            run = ids.get(one.run, "")
            made.append(replace(Entry.from_json(body), job=to.id, joint=here, run=run))
    from_job = log.job(joint.job)
    origin = Quote(from_job.name if from_job is not None else joint.job)
    made.append(
        Entry(
            id=_following("moved here", key, at, 1),
            kind="note",
            note=str(say("Moved here from {job}", job=origin)),
            typed={"moved_from": [joint.id]},
            job=to.id,
            joint=here,
            at=at,
            who=who,
        )
    )
    made.append(
        Entry(
            id=_following("moved away", key, at, 1),
            kind="close",
            understood={"closed": True},
            typed={"moved_to": [here]},
            note=str(say("Moved to {job}", job=Quote(to.name))),
            job=joint.job,
            joint=joint.id,
            at=at,
            who=who,
        )
    )
    for _, problem in read_all(made, [received] * len(made))[1]:
        raise problem
    # First what is said of them: where this breaks off, no entry stands without its mark.
    said = log.marks_of([one.id for one in old])
    log.mark([replace(one, entry=ids[one.entry], job=to.id) for one in said])
    log.append(made, received)
