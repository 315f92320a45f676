"""What a joint needs before it is signed, and the seal that a signature puts on the entries.

A signature holds the digest of every entry of its job that was there, those under an earlier
seal through that seal. Whatever comes later shows as after it; whatever is changed by hand no
longer matches. The whole digest stands on the printed record too, so a log in which entries and
seal were both made up anew can be told from the paper.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from hashlib import sha256
from typing import Any

from fieldkit.engine.words import say
from fieldkit.flows.checklist import STAGES, standing
from fieldkit.joblog.door import fitted
from fieldkit.joblog.entry import Entry, json_text
from fieldkit.joblog.log import JobLog
from fieldkit.joblog.read import JointNow

#: Results of these flows are a diagnosis, which must be closed by what was really found.
DIAGNOSES = ("leak-now", "popped-off", "failed-test")

#: Points that are no stage of the checklist.
_OWN_LABELS = {
    "cured": say("Let the cement cure"),
    "closed": say("Close the diagnosis"),
    "reproduced": say("Work it out once more"),
}

_LOT = 2000


# ── What is complete ────────────────────────────────────────────────────────────────────────


@dataclass(frozen=True, slots=True)
class Point:
    """One thing that a joint needs before it is signed; ``flow`` is where to do it."""

    id: str
    label: str
    met: bool
    words: str
    flow: str


def points(joint: JointNow, now: str) -> tuple[Point, ...]:
    """Every point that this joint needs, met or not, in the order of the work."""
    facts = joint.facts
    found = []
    for one in standing(facts):
        if one.state == "not needed":
            continue
        met = one.state == "done"
        words = one.summary or ("" if met else say("Not done yet."))
        found.append(Point(one.stage.id, one.stage.label, met, words, one.stage.flow))
        if one.stage.id == "join-cement":
            found.append(_cured(facts, now))
    asked = [joint.states[flow] for flow in DIAGNOSES if flow in joint.states]
    if asked:
        last = max(asked, key=lambda state: (state.at, state.entry))
        found.append(_closed(joint, last.at, last.flow))
    if joint.doubted:
        found.append(_doubted(joint))
    return tuple(found)


def point_label(point_id: str) -> str:
    """What a point is called, by its id; a signature holds the id.

    Examples
    --------
    >>> point_label("cured"), point_label("measure-pipe")
    ('Let the cement cure', 'Measure the rigid pipe')
    """
    return _OWN_LABELS.get(point_id) or next(
        (one.label for one in STAGES if one.id == point_id), point_id
    )


def _cured(facts: Mapping[str, Any], now: str) -> Point:
    ready_at = facts.get("weld.ready_at")
    if not ready_at:
        met, words = False, say("It is not known when the cement will have cured.")
    elif _moment(str(ready_at)) > _moment(now):
        met, words = False, say("The cement is still curing.")
    else:
        met, words = True, say("The cement has cured.")
    return Point("cured", point_label("cured"), met, words, "join-cement")


def _closed(joint: JointNow, asked_at: str, flow: str) -> Point:
    """A diagnosis is closed by what was really found, or by a later test that holds."""
    really = joint.facts.get("leak.really")
    tested = joint.states.get("prove")
    holds = tested is not None and tested.verdict == "holds" and tested.at > asked_at
    met = bool(really) or holds
    if really:
        words = say("What was really wrong is written down.")
    elif holds:
        words = say("It was tested after the diagnosis, and holds.")
    else:
        words = say("A fault was looked for; what it was, or a test that holds, is missing.")
    return Point("closed", point_label("closed"), met, words, flow)


def _doubted(joint: JointNow) -> Point:
    """Results that do not follow from their answers: gone once each is worked out anew."""
    doubted = sorted(joint.doubted & joint.states.keys()) or [""]
    words = say("A result here was not reproduced: its answers lead to another one.")
    return Point(
        "reproduced", point_label("reproduced"), False, words, doubted[0] or STAGES[0].flow
    )


def _moment(text: str) -> str:
    """A time cut to whole seconds in UTC, so that forms with and without fractions compare."""
    return text[:19]


# ── The seal ────────────────────────────────────────────────────────────────────────────────


def entry_digest(entry: Entry) -> str:
    """SHA-256 of an entry's canonical JSON: every field, keys in order, UTF-8."""
    return sha256(json_text(entry.as_json()).encode()).hexdigest()


def whole_digest(digests: Mapping[str, str]) -> str:
    """SHA-256 over a line ``id digest`` for each entry, in order of ids."""
    lines = "".join(f"{one} {digests[one]}\n" for one in sorted(digests))
    return sha256(lines.encode()).hexdigest()


def all_entries(log: JobLog, job: str) -> tuple[Entry, ...]:
    """Every entry of a job, in order of arrival."""
    seq = 0
    found: list[Entry] = []
    while page := log.since(seq, _LOT, job_id=job):
        seq = page[-1].seq
        found.extend(one.entry for one in page)
    return tuple(found)


def _held(signature: Entry) -> dict[str, str]:
    """The digests that a signature holds itself: id → digest."""
    kept = (signature.result or {}).get("digests")
    if not isinstance(kept, Mapping):
        return {}
    return {str(one): str(value) for one, value in kept.items()}


def signatures(entries: Iterable[Entry]) -> tuple[Entry, ...]:
    """The signatures among entries, oldest first, without what does not fit one."""
    found = (fitted(one)[0] for one in entries if one.kind == "signature")
    return tuple(sorted(found, key=lambda e: (e.at, e.id)))


def seal(entries: Sequence[Entry]) -> dict[str, Any]:
    """What a signature holds about the entries before it.

    Only entries that no earlier seal holds are listed; ``digest`` is over all of them.
    """
    earlier: dict[str, str] = {}
    for one in signatures(entries):
        earlier.update(_held(one))
    now = {one.id: entry_digest(one) for one in entries}
    return {
        "digests": {one: value for one, value in now.items() if one not in earlier},
        "digest": whole_digest({**now, **earlier}),
        "entries": len({**now, **earlier}),
    }


@dataclass(frozen=True, slots=True)
class Checked:
    """What became of one seal: ``wrong`` is the first entry that does not match, with why."""

    signature: Entry
    covers: int
    after: tuple[Entry, ...]
    wrong: str = ""
    why: str = ""

    @property
    def whole(self) -> bool:
        """Whether every entry under the seal is as it was signed."""
        return not self.wrong


def check(entries: Sequence[Entry]) -> tuple[Checked, ...]:
    """Work out every seal of one job again, oldest first."""
    there = {one.id: one for one in entries}
    now = {one.id: entry_digest(one) for one in entries}
    held: dict[str, str] = {}
    found: list[Checked] = []
    for signature in signatures(entries):
        held.update(_held(signature))
        wrong, why = "", ""
        for one in sorted(held):
            if one not in now:
                wrong, why = one, say("is missing")
            elif now[one] != held[one]:
                wrong, why = one, say("was changed")
            else:
                continue
            break
        if not wrong and (signature.result or {}).get("digest") != whole_digest(held):
            wrong, why = signature.id, say("does not hold the digest of what it lists")
        after = tuple(
            fitted(one)[0] for key, one in there.items() if key not in held and key != signature.id
        )
        found.append(Checked(signature, len(held), after, wrong, why))
    return tuple(found)
