"""Results worked out again from their answers: the engine is pure, so the same must come out.

A result is taken with what the log knew at its own moment: the answers of its run, the joint's
facts, the price list. What comes out otherwise was changed on its way, was made by another
version, or was made on a phone that did not know what another had sent.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from typing import Any

from fieldkit.engine.problems import Problem
from fieldkit.engine.working import to_json
from fieldkit.flows.catalogue import flows
from fieldkit.flows.choosing.prices import split_list
from fieldkit.flows.diagnosing.request import read_counted, read_history
from fieldkit.flows.facts import shared_facts
from fieldkit.flows.flow import Flow
from fieldkit.joblog.entry import Entry
from fieldkit.joblog.log import JobLog
from fieldkit.joblog.marks import NOT_REPRODUCED, Mark
from fieldkit.joblog.read import APART, ILLUSTRATIVE, JointNow, Stored, Taught, fold_run

#: Two machines may differ in the last digits of a figure, which no page shows.
_NEAR = 1e-5

#: So many of those marked before are looked at again, the newest first: the work of an exchange
#: must not grow with what others sent.
_LOOKED = 30

#: A result that arrives is worked out from so many entries of its joint, no more, for the same
#: reason; one that rests on others says that it was not reproduced.
_MOST = 5_000

#: What results of older versions do not have.
_ADDED = frozenset({"counted", "here"})

_NUMBER = re.compile(r"\d{1,12}(?:\.\d{1,12})?")


@dataclass(frozen=True, slots=True)
class Reworked:
    """What became of one result or pick: ``now`` is the sentence of this version, if it has one."""

    entry: Entry
    same: bool
    now: str = ""


class Known:
    """What the log knew at any moment, read once for all results that are worked out together."""

    def __init__(self, log: JobLog) -> None:
        self._log = log
        self._taught: dict[tuple[str, tuple[str, ...]], tuple[Taught, ...]] = {}

    @cached_property
    def price_lists(self) -> tuple[Entry, ...]:
        """Every price list, the newest first."""
        return self._log.price_history()

    @cached_property
    def failures(self) -> tuple[tuple[str, str, str], ...]:
        """When and at which joint which cause was found out."""
        return failures(self._log)

    def of_the_job(self, names: tuple[str, ...], entry: Entry) -> Mapping[str, Any]:
        """Facts that hold for every joint of the job, as they stood at the entry's moment."""
        if not names:
            return {}
        key = (entry.job, names)
        if key not in self._taught:
            self._taught[key] = self._log.taught(entry.job, names)
        by_joint: dict[str, dict[str, Any]] = {}
        for one in self._taught[key]:
            if (one.at, one.entry) >= (entry.at, entry.id):
                break
            by_joint.setdefault(one.joint, {}).update(one.facts)
        return shared_facts(names, by_joint.values(), entry.at)


def reworked(
    log: JobLog,
    job: str,
    joint: str,
    wanted: frozenset[str] | None = None,
    *,
    known: Known | None = None,
    most: int = 1 << 40,
) -> Iterator[Reworked]:
    """Work out the ``wanted`` results of a joint again, or all, from its last ``most`` entries."""
    known = known or Known(log)
    history = log.history(job_id=job, joint_id=joint, limit=most)
    facts: dict[str, Any] = {}
    runs: dict[tuple[str, str], list[Stored]] = {}
    # Made in the same instant, they arrive in the order in which they were made.
    for one in sorted(history, key=lambda stored: (stored.entry.at, stored.seq)):
        entry = one.entry
        run = runs.setdefault((entry.flow, entry.run), [])
        if entry.kind in {"result", "pick"} and (wanted is None or entry.id in wanted):
            yield _again(known, entry, run, facts)
        run.append(one)
        for name, value in entry.facts.items():
            facts[name] = value


def _again(log: Known, entry: Entry, before: list[Stored], facts: Mapping[str, Any]) -> Reworked:
    flow = flows().get(entry.flow)
    if flow is None:
        return Reworked(entry, same=False)
    try:
        if entry.kind == "pick":
            return _picked_again(flow, entry, before)
        known: dict[str, Any] = {name: one for name, one in facts.items() if one is not None}
        known |= {"now": entry.at, **log.of_the_job(flow.shares, entry)}
        if flow.uses_history:
            known |= _counted(log, entry)
        answers = fold_run(before).answers if before else {}
        done = Reworked(entry, same=False)
        for prices in _prices(log.price_lists, entry) if flow.uses_prices else ({},):
            done = _worked_out(flow, entry, answers, known | ({"prices": prices} if prices else {}))
            if done.same:
                break
    except (Problem, LookupError, TypeError, ValueError, ArithmeticError, AttributeError):
        return Reworked(entry, same=False)
    return done


def _counted(log: Known, entry: Entry) -> dict[str, Any]:
    """What the log had taught the diagnosis: as the result says, or as this log knows.

    Which joints a phone knew of cannot be told later, so a result keeps what it counted.
    """
    kept = (entry.result or {}).get("counted")
    if isinstance(kept, Mapping):
        return {"history": read_history(kept.get("found")), "counted": read_counted(kept)}
    return {"history": causes_found(log.failures, entry.joint, entry.at)}


def _worked_out(
    flow: Flow, entry: Entry, answers: Mapping[str, Any], known: Mapping[str, Any]
) -> Reworked:
    given = flow.relevant(answers, known)
    result = flow.work_out(given, known).as_json()
    learned = to_json(flow.learn(given, result))
    told = {name: one for name, one in (entry.result or {}).items() if name != "said"}
    left_out = {"said"} | (_ADDED - told.keys())
    came_out = {name: one for name, one in result.items() if name not in left_out}
    same = alike([to_json(given), came_out, learned], [entry.understood, told, dict(entry.facts)])
    return Reworked(entry, same, str(result["headline"]))


def _picked_again(flow: Flow, entry: Entry, before: list[Stored]) -> Reworked:
    """What a pick teaches must follow from the result that it was picked from."""
    result = fold_run(before).last_result if before else None
    if result is None or result.result is None or flow.pick is None:
        return Reworked(entry, same=False)
    learned = to_json(flow.pick(result.result, str(entry.understood)))
    return Reworked(entry, alike(learned, dict(entry.facts)), str(entry.understood))


def closed_joints(log: JobLog) -> list[JointNow]:
    """The joints whose failure was diagnosed and found out, invented ones left out."""
    found = log.joints_knowing("leak.really")
    jobs = {one: log.job(one) for one in {joint.job for joint in found}}
    demo = {one for one, job in jobs.items() if job is not None and job.demo}
    return [joint for joint in found if joint.job not in demo]


def failures(log: JobLog) -> tuple[tuple[str, str, str], ...]:
    """When and at which joint which cause was found out, invented joints left out."""
    here = (
        (one.fact_times.get("leak.really", ""), one.id, one.facts["leak.really"])
        for one in closed_joints(log)
    )
    return (*here, *log.found_elsewhere)


def causes_found(found: Iterable[tuple[str, str, str]], but: str, until: str) -> Mapping[str, int]:
    """How often which cause had been found out by a moment, on all joints but one."""
    return Counter(cause for at, joint, cause in found if joint != but and at <= until)


def _prices(lists: Iterable[Entry], entry: Entry) -> Iterator[Mapping[str, Any] | str]:
    """The price list as it stood at the entry's moment, as a calculation takes it.

    Before it come those dated up to ``APART`` later: the clocks of two devices differ so much.
    """
    latest = datetime.fromisoformat(entry.at) + APART
    for one in lists:
        if datetime.fromisoformat(one.at) <= latest:
            yield "demo" if one.note == ILLUSTRATIVE else split_list(one.understood or {})[0]
        if (one.at, one.id) < (entry.at, entry.id):
            return
    yield {}


def alike(one: Any, other: Any) -> bool:
    """Whether two JSON values say the same, to the digits that are shown.

    Examples
    --------
    >>> alike({"od": 0.84, "said": "0.840 in"}, {"od": 0.8400000001, "said": "0.840 in"})
    True
    >>> alike("0.840 in", "0.841 in"), alike("0.840 in", "0.850 in"), alike(1.0, True)
    (True, False, False)
    """
    if isinstance(one, Mapping) and isinstance(other, Mapping):
        return one.keys() == other.keys() and all(alike(one[key], other[key]) for key in one)
    if isinstance(one, list | tuple) and isinstance(other, list | tuple):
        return len(one) == len(other) and all(map(alike, one, other))
    if isinstance(one, bool) or isinstance(other, bool):
        return one is other
    if isinstance(one, int | float) and isinstance(other, int | float):
        return math.isclose(one, other, rel_tol=_NEAR, abs_tol=1e-9)
    if isinstance(one, str) and isinstance(other, str):
        return one == other or _same_digits(one, other)
    return bool(one == other)


def _same_digits(one: str, other: str) -> bool:
    """Whether two sentences differ by one in the last digit of their figures and no more."""
    if _NUMBER.sub("#", one) != _NUMBER.sub("#", other):
        return False
    for mine, theirs in zip(_NUMBER.findall(one), _NUMBER.findall(other), strict=True):
        places = len(mine.partition(".")[2])
        if places != len(theirs.partition(".")[2]):
            return False
        # A whole number may be a count or a trade size: there is no last digit to spare.
        if mine != theirs and (not places or abs(float(mine) - float(theirs)) > 1.1 * 10**-places):
            return False
    return True


def mark_new(log: JobLog, new: Iterable[Entry]) -> None:
    """Mark which of the entries that have just arrived do not come out so again.

    What was marked before may rest on what has come only now, so it is worked out once more.
    """
    touched = {(one.job, one.joint) for one in new}
    marked = log.entries(mark.entry for mark in log.marks(NOT_REPRODUCED, limit=_LOOKED))
    # A price list, which belongs to no job, counts in all of them.
    before = [
        one.entry
        for one in marked.values()
        if touched & {("", ""), (one.entry.job, one.entry.joint)}
    ]
    by_joint: dict[tuple[str, str], set[str]] = {}
    for entry in (*new, *before):
        if entry.kind in {"result", "pick"}:
            by_joint.setdefault((entry.job, entry.joint), set()).add(entry.id)
    known = Known(log)
    again = [
        one
        for (job, joint), ids in by_joint.items()
        for one in reworked(log, job, joint, frozenset(ids), known=known, most=_MOST)
    ]
    log.unmark(NOT_REPRODUCED, [one.entry.id for one in again if one.same])
    log.mark(
        [Mark(one.entry.id, one.entry.job, NOT_REPRODUCED, {}) for one in again if not one.same]
    )
