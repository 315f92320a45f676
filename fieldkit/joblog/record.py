"""The record of a job as data: what a page, a PDF and a file to hand over all show."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from fieldkit.engine.words import Text, join, say
from fieldkit.engine.working import tellable
from fieldkit.flows.block import Block, Cards, Clock, Notes, Table
from fieldkit.flows.catalogue import flows
from fieldkit.flows.checklist import STAGES, point_name
from fieldkit.flows.flow import Flow
from fieldkit.flows.localize import as_text
from fieldkit.flows.outcome import cause_title, standing_words
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


#: Joints that the first page names one by one, those that do not hold first.
FIRST_PAGE_JOINTS = 12

#: Photos on the first page, and among how many joints they are looked for.
FIRST_PAGE_PHOTOS, MOST_LOOKED_FOR_PHOTOS = 3, 200


@dataclass(frozen=True, slots=True)
class Glance:
    """One joint in one look: its tone and word, what was made, what came of it."""

    joint: JointNow
    tone: str
    word: Text
    made: Text
    came: Text
    at: str
    #: The entry that says so, where it is one.
    id: str


@dataclass(frozen=True, slots=True)
class Waived:
    """What was signed without: at which joint, which point, why, by whom, when."""

    joint: str
    point: str
    reason: str
    who: str
    at: str
    #: The signature.
    id: str


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
    names: Mapping[str, str]
    #: The last signature that no file brought in.
    own: Checked | None
    #: Entries that a file brought in: a signature among them is not one's own.
    others: frozenset[str]

    def glances(self) -> tuple[Glance, ...]:
        """Each joint in one look; what does not hold first."""
        found = [_glance(one, self.made_at) for one in self.joints.joints]
        order = {"stop": 0, "look": 1, "holds": 2}
        return tuple(sorted(found, key=lambda one: order[one.tone]))

    def waived(self) -> tuple[Waived, ...]:
        """What was signed without here, each point of a joint once, by its last signature."""
        found: dict[tuple[str, str], Waived] = {}
        for one in self.signatures:
            if one.signature.id in self.others:
                continue
            said = one.signature.understood or {}
            for gap in said.get("waived", ()):
                found[gap["joint"], gap["point"]] = Waived(
                    self.name_of(gap["joint"]),
                    point_name(gap["point"]),
                    str(gap.get("reason", "")),
                    str(said.get("name", "")),
                    one.signature.at,
                    one.signature.id,
                )
        return tuple(found.values())

    def first_photos(self) -> tuple[tuple[str, Entry], ...]:
        """The photos of the first page, each with its joint: one a joint, what leaks first."""
        found: list[tuple[str, Entry]] = []
        for one in self.glances()[:MOST_LOOKED_FOR_PHOTOS]:
            found += [(one.joint.id, shot) for shot in self.joints.photos_of(one.joint)[-1:]]
            if len(found) == FIRST_PAGE_PHOTOS:
                break
        return tuple(found)

    def name_of(self, joint: str) -> str:
        """The name of one of its joints, also of one that was moved away."""
        return self.names.get(joint, joint)

    @staticmethod
    def label_of(point: str) -> str:
        """What a point is called that was signed for, or without."""
        return point_name(point)


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
            answer = entry.result or {}
            sources |= dict.fromkeys(_sources(answer))
            told = {name: answer.get(name) or () for name in ("cautions", "said")}
            cautions |= dict.fromkeys(tellable(told)["cautions"])
        tell(job.entries, job.entries)
    told_of: dict[str, tuple[Text, ...]] = {}
    for mark in log.marks(job=job_id):
        told_of[mark.entry] = (*told_of.get(mark.entry, ()), words_of(mark))
    others = brought_in(log, job_id)
    own = last_own(signed, others)
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
        names={one.id: one.name for one in log.joints(job_id, moved=True)},
        own=own,
        others=others,
    )


def _glance(joint: JointNow, now: str) -> Glance:
    facts = joint.facts
    tone, word = standing_words(facts, now)
    if tone == "holds" and joint.doubted & {"prove", "test.verdict"}:
        tone, word = "look", say("Not reproduced")
    assembly = facts.get("parts.assembly")
    parts = assembly["parts"] if isinstance(assembly, Mapping) else ()
    cause = facts.get("leak.really") or facts.get("leak.cause")
    tested = joint.states.get("prove")
    if tone == "stop" and cause:
        came = as_text(cause_title(str(cause)))
    elif facts.get("test.verdict") and tested is not None:
        came = tested.sentence
    else:
        came = say("")
    made = join((as_text(str(part["name"])) for part in parts), " + ")
    told = "test.verdict" if tone == "holds" else ""
    at = joint.fact_times.get(told, joint.last_at)
    return Glance(joint, tone, word, made, came, at, joint.fact_entries.get(told, ""))


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

    def photos_of(self, joint: JointNow) -> tuple[Entry, ...]:
        """The photos of one of them."""
        return self._log.photos(joint.job, joint.id)

    def __iter__(self) -> Iterator[JointRecord]:
        """One after the other, oldest first."""
        for joint in self.joints:
            yield JointRecord(
                joint=joint,
                points=points(joint, self._now),
                outcomes=tuple(_outcomes(self._log, joint)),
                notes=tuple(self._notes.get(joint.id, ())),
                photos=self.photos_of(joint),
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
    here = log.entries((state.entry for state in states), fitting_only=True)
    for state in states:
        found, flow = here.get(state.entry), known.get(state.flow)
        if found is not None and flow is not None and found.entry.result is not None:
            yield flow, found.entry


def _on_paper(block: Block) -> bool:
    """Choices not taken, what is folded away, and what runs on stay off the paper."""
    return not isinstance(block, Cards | Clock) and not (
        isinstance(block, Table | Notes) and block.folded
    )


def _sources(answer: Mapping[str, Any]) -> Iterator[str]:
    for line in answer.get("working") or ():
        if isinstance(line, dict) and line.get("source"):
            yield str(line["source"])
