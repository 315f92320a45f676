"""The record of a job as data: what a page, a PDF and a file to hand over all show."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from fieldkit.engine.words import Text
from fieldkit.engine.working import tellable
from fieldkit.flows.block import Block, Cards, Clock, Notes, Table
from fieldkit.flows.catalogue import flows
from fieldkit.flows.checklist import STAGES
from fieldkit.joblog.arrival import Head
from fieldkit.joblog.door import fitted
from fieldkit.joblog.entry import Entry
from fieldkit.joblog.log import JobLog
from fieldkit.joblog.marks import words_of
from fieldkit.joblog.read import JobNow, JointNow
from fieldkit.joblog.signing import (
    Checked,
    Point,
    all_stored,
    brought_in,
    check,
    digests_of,
    last_own,
    point_label,
    points,
    whole_digest,
)


@dataclass(frozen=True, slots=True)
class Outcome:
    """What one flow came to: its title, its answer, and the blocks that a paper can show."""

    title: str
    entry: Entry
    answer: dict[str, Any]
    blocks: tuple[Block, ...]


@dataclass(frozen=True, slots=True)
class JointRecord:
    """One joint: where it stands, what each flow came to, its notes and photos."""

    joint: JointNow
    points: tuple[Point, ...]
    outcomes: tuple[Outcome, ...]
    notes: tuple[Entry, ...]
    photos: tuple[Entry, ...]


@dataclass(frozen=True, slots=True)
class Record:
    """The whole job. ``digest`` is over every entry, so any later change shows.

    ``signed``: one of its signatures came from no file. ``after`` is what came after the last such.

    ``head`` is that of the whole log, of the server's where this is a phone; ``arrived`` says by id
    when an entry came here, where that is far from when it was made.
    """

    job: JobNow
    made_at: str
    joints: tuple[JointRecord, ...]
    notes: tuple[Entry, ...]
    signatures: tuple[Checked, ...]
    signed: bool
    after: tuple[Entry, ...]
    entries: int
    digest: str
    sources: tuple[str, ...]
    cautions: tuple[str, ...]
    marks: Mapping[str, tuple[Text, ...]]
    head: Head | None
    arrived: Mapping[str, str]

    def name_of(self, joint: str) -> str:
        """The name of one of its joints."""
        return next((one.joint.name for one in self.joints if one.joint.id == joint), joint)

    @staticmethod
    def label_of(point: str) -> str:
        """What a point is called that was signed for, or without."""
        return point_label(point)


def record_of(
    log: JobLog,
    job_id: str,
    now: str,
    head: Head | None,
    tell: Callable[[int, int], None] = lambda *_: None,
) -> Record | None:
    """The record of a job as the log stands, or None when there is no such job.

    ``head`` is printed on it, to be held against the log later. ``tell`` is told how far it is.
    """
    job = log.job(job_id)
    if job is None:
        return None
    whole = 3 * job.entries
    stored = all_stored(log, job_id, lambda n: tell(n, whole))
    entries = tuple(one.entry for one in stored)
    there = {one.id: one for one in entries if one.kind == "result"}
    notes = _notes(entries)
    joints = tuple(
        JointRecord(
            joint=joint,
            points=points(joint, now),
            outcomes=tuple(_outcomes(joint, there)),
            notes=notes.get(joint.id, ()),
            photos=log.photos(job_id, joint.id),
        )
        for joint in log.joints(job_id)
    )
    told_of: dict[str, tuple[Text, ...]] = {}
    for mark in log.marks(job=job_id):
        told_of[mark.entry] = (*told_of.get(mark.entry, ()), words_of(mark))
    answers = [one.answer for joint in joints for one in joint.outcomes]
    signed = check(entries, lambda n: tell(job.entries + n, whole))
    digests = digests_of(entries, lambda n: tell(2 * job.entries + n, whole))
    own = last_own(signed, brought_in(log, job_id))
    return Record(
        job=job,
        made_at=now,
        joints=joints,
        notes=notes.get("", ()),
        signatures=signed,
        signed=own is not None,
        after=own.after if own else (),
        entries=len(entries),
        digest=whole_digest(digests),
        sources=tuple(dict.fromkeys(_sources(answers))),
        marks=told_of,
        cautions=tuple(
            dict.fromkeys(one for answer in answers for one in answer.get("cautions") or ())
        ),
        head=head,
        arrived={one.entry.id: one.apart for one in stored if one.apart},
    )


def _outcomes(joint: JointNow, there: dict[str, Entry]) -> Iterator[Outcome]:
    """The last result of each flow, in the order of the work."""
    known = flows()
    order = {stage.flow: n for n, stage in enumerate(STAGES)}
    states = sorted(joint.states.values(), key=lambda one: (order.get(one.flow, 99), one.at))
    for state in states:
        whole, flow = there.get(state.entry), known.get(state.flow)
        entry = None if whole is None else fitted(whole)[0]
        if entry is None or flow is None or entry.result is None:
            continue
        answer = tellable(entry.result)
        yield Outcome(flow.title, entry, answer, tuple(filter(_on_paper, flow.blocks(answer))))


def _on_paper(block: Block) -> bool:
    """Choices not taken, what is folded away, and what runs on stay off the paper."""
    return not isinstance(block, Cards | Clock) and not (
        isinstance(block, Table | Notes) and block.folded
    )


def _notes(entries: tuple[Entry, ...]) -> dict[str, tuple[Entry, ...]]:
    """The notes on each joint, and on the job itself under no name."""
    found: dict[str, list[Entry]] = {}
    for one in entries:
        if one.kind == "note":
            found.setdefault(one.joint, []).append(fitted(one)[0])
    return {joint: tuple(notes) for joint, notes in found.items()}


def _sources(answers: list[dict[str, Any]]) -> Iterator[str]:
    for answer in answers:
        for line in answer.get("working") or ():
            if isinstance(line, dict) and line.get("source"):
                yield str(line["source"])
