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
from fieldkit.flows.flow import Flow
from fieldkit.joblog.arrival import Head
from fieldkit.joblog.door import fitted
from fieldkit.joblog.entry import Entry
from fieldkit.joblog.log import JobLog
from fieldkit.joblog.marks import words_of
from fieldkit.joblog.read import JobNow, JointNow, Stored
from fieldkit.joblog.signing import (
    Checked,
    Point,
    brought_in,
    last_own,
    point_label,
    points,
    read_through,
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
    joints: JointRecords
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
        return next((one.name for one in self.joints.joints if one.id == joint), joint)

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
    notes: dict[str, list[Entry]] = {}
    arrived = {}

    def each(one: Stored) -> None:
        if one.apart:
            arrived[one.entry.id] = one.apart
        if one.entry.kind == "note":
            notes.setdefault(one.entry.joint, []).append(fitted(one.entry)[0])

    through = read_through(log, job_id, each, lambda n: tell(n, job.entries))
    signed, digests = through.checked, through.digests
    joints = log.joints(job_id)
    sources: dict[str, None] = {}
    cautions: dict[str, None] = {}
    for joint in joints:
        for _, entry in _last_results(log, joint):
            answer = tellable(entry.result or {})
            sources |= dict.fromkeys(_sources(answer))
            cautions |= dict.fromkeys(answer.get("cautions") or ())
        tell(job.entries, job.entries)
    told_of: dict[str, tuple[Text, ...]] = {}
    for mark in log.marks(job=job_id):
        told_of[mark.entry] = (*told_of.get(mark.entry, ()), words_of(mark))
    own = last_own(signed, brought_in(log, job_id))
    return Record(
        job=job,
        made_at=now,
        joints=JointRecords(log, joints, now, notes),
        notes=tuple(notes.get("", ())),
        signatures=signed,
        signed=own is not None,
        after=own.after if own else (),
        entries=len(digests),
        digest=whole_digest(digests),
        sources=tuple(sources),
        marks=told_of,
        cautions=tuple(cautions),
        head=head,
        arrived=arrived,
    )


class JointRecords:
    """The records of a job's joints, each made when its turn comes and not kept."""

    def __init__(
        self, log: JobLog, joints: tuple[JointNow, ...], now: str, notes: Mapping[str, list[Entry]]
    ) -> None:
        self._log, self._now, self._notes = log, now, notes
        self.joints = joints

    def __len__(self) -> int:
        """How many there are."""
        return len(self.joints)

    def __iter__(self) -> Iterator[JointRecord]:
        """One after the other, oldest first."""
        for joint in self.joints:
            yield JointRecord(
                joint=joint,
                points=points(joint, self._now),
                outcomes=tuple(_outcomes(self._log, joint)),
                notes=tuple(self._notes.get(joint.id, ())),
                photos=self._log.photos(joint.job, joint.id),
            )


def _outcomes(log: JobLog, joint: JointNow) -> Iterator[Outcome]:
    """What each flow came to, in the order of the work."""
    for flow, entry in _last_results(log, joint):
        answer = tellable(entry.result or {})
        yield Outcome(flow.title, entry, answer, tuple(filter(_on_paper, flow.blocks(answer))))


def _last_results(log: JobLog, joint: JointNow) -> Iterator[tuple[Flow, Entry]]:
    """The last result of each flow, in the order of the work."""
    known = flows()
    order = {stage.flow: n for n, stage in enumerate(STAGES)}
    states = sorted(joint.states.values(), key=lambda one: (order.get(one.flow, 99), one.at))
    for state in states:
        whole, flow = log.entry(state.entry), known.get(state.flow)
        entry = None if whole is None else fitted(whole.entry)[0]
        if entry is not None and flow is not None and entry.result is not None:
            yield flow, entry


def _on_paper(block: Block) -> bool:
    """Choices not taken, what is folded away, and what runs on stay off the paper."""
    return not isinstance(block, Cards | Clock) and not (
        isinstance(block, Table | Notes) and block.folded
    )


def _sources(answer: Mapping[str, Any]) -> Iterator[str]:
    for line in answer.get("working") or ():
        if isinstance(line, dict) and line.get("source"):
            yield str(line["source"])
