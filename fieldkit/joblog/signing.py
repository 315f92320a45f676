"""What a joint needs before it is signed, and the seal that a signature puts on the entries.

A signature holds the digest of every entry of its job that was there, those under an earlier
seal through that seal. Its own fields (who, when, what was waived and why) are under it too.
Whatever comes later shows as after it; whatever is changed by hand no longer matches. The whole
digest stands on the printed record too, so a log in which entries and seal were both made up anew
can be told from the paper.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from hashlib import sha256
from typing import Any

from fieldkit.engine.words import Text, say
from fieldkit.flows.checklist import STAGES, point_name, standing
from fieldkit.flows.outcome import leaks
from fieldkit.joblog.canonical import canonical
from fieldkit.joblog.door import fitted
from fieldkit.joblog.entry import Entry, entry_digest, json_text
from fieldkit.joblog.log import JobLog
from fieldkit.joblog.marks import BROUGHT_IN
from fieldkit.joblog.read import JointNow, Stored

#: Results of these flows are a diagnosis, which must be closed by what was really found.
DIAGNOSES = ("leak-now", "popped-off", "failed-test")

_LOT = 250

#: Told how many entries are done.
Tell = Callable[[int], None]

#: Points that wait for a joint that leaks to be mended: of these nothing is "missing".
_WHILE_IT_LEAKS = frozenset({"why", "mend", "prove", "closed"})

_DONE, _MISSING = say("Done"), say("Missing")


# ── What is complete ────────────────────────────────────────────────────────────────────────


@dataclass(frozen=True, slots=True)
class Point:
    """One thing that a joint needs before it is signed; ``flow`` is where to do it.

    ``state`` says in a word how it stands: done, missing, or what speaks against it.
    """

    id: str
    label: str
    met: bool
    words: str
    flow: str
    state: Text = _MISSING


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
    failed = {one.stage.id for one in standing(facts) if one.state == "failed"}
    return tuple(replace(one, state=_state(one, facts, one.id in failed)) for one in found)


def _state(point: Point, facts: Mapping[str, Any], failed: bool) -> Text:
    """How a point stands, in a word."""
    if point.met:
        return _DONE
    if point.id in _WHILE_IT_LEAKS and leaks(facts):
        return say("Leaks")
    return say("Not passed") if failed else _MISSING


def _cured(facts: Mapping[str, Any], now: str) -> Point:
    ready_at = facts.get("weld.ready_at")
    if not ready_at and facts.get("weld.cured"):
        met, words = True, say("Glued over a day ago, as was said when the test was planned.")
    elif not ready_at:
        met, words = False, say("It is not known when the cement will have cured.")
    elif _moment(str(ready_at)) > _moment(now):
        met, words = False, say("The cement is still curing.")
    else:
        met, words = True, say("The cement has cured.")
    return Point("cured", point_name("cured"), met, words, "join-cement")


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
    return Point("closed", point_name("closed"), met, words, flow)


def _doubted(joint: JointNow) -> Point:
    """Results that do not follow from their answers: gone once each is worked out anew."""
    doubted = sorted(joint.doubted & joint.states.keys()) or [""]
    words = say("A result here was not reproduced: its answers lead to another one.")
    return Point("reproduced", point_name("reproduced"), False, words, doubted[0] or STAGES[0].flow)


def _moment(text: str) -> str:
    """A time cut to whole seconds in UTC, so that forms with and without fractions compare."""
    return text[:19]


# ── The seal ────────────────────────────────────────────────────────────────────────────────


#: What a seal says of how its digests are made. One that says nothing is older: its digests are
#: over JSON as Python writes it, and its own fields are not under it.
FORM = "RFC 8785"


def _older(entry: Entry) -> set[str]:
    """What an older seal can hold of an entry: it as it is, or as a phone's browser read it.

    A browser turned 68.0 into 68 on the way to its phone, and a person there signed that.
    """
    body = entry.as_json()
    forms = [body]
    with suppress(ValueError):  # what has no canonical form went to no phone in another one
        forms.append(json.loads(canonical(body)))
    return {sha256(json_text(form).encode()).hexdigest() for form in forms}


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
    kept = signature.result.get("digests") if isinstance(signature.result, Mapping) else None
    if not isinstance(kept, Mapping):
        return {}
    return {str(one): str(value) for one, value in kept.items()}


def signatures(entries: Iterable[Entry]) -> tuple[Entry, ...]:
    """The signatures among entries, oldest first, without what does not fit one."""
    found = (fitted(one)[0] for one in entries if one.kind == "signature")
    return tuple(sorted(found, key=lambda e: (e.at, e.id)))


def seal(
    signature: Entry, entries: Sequence[Entry], others: Collection[str] = frozenset()
) -> Entry:
    """The signature with its seal on itself and the entries before it: see ``seal_over``."""
    there, digests = {one.id: one for one in entries}, digests_of(entries)
    return seal_over(signature, Through(there, digests, _checked(there, digests)), others)


def seal_over(signature: Entry, before: Through, others: Collection[str]) -> Entry:
    """The signature with its seal on itself and all that was there before it.

    It builds on the earlier seals that hold, and lists what none of them does; ``digest`` is over
    all of it. ``others`` are signatures that a file brought in: nothing is built on these.
    """
    on = [
        one.signature.id for one in before.checked if one.whole and one.signature.id not in others
    ]
    earlier: dict[str, str] = {}
    for one in on:
        for base in _builds_on(before.there[one], before.there):
            earlier.update(_held(base))
    new = {one: digest for one, digest in before.digests.items() if one not in earlier}
    held = {**earlier, **new}
    sealing = {"form": FORM, "on": on, "digests": new, "entries": len(held)}
    made = replace(signature, result={**(signature.result or {}), **sealing})
    return replace(made, result={**(made.result or {}), "digest": _whole_with(made, held)})


def _whole_with(signature: Entry, held: Mapping[str, str]) -> str:
    """The digest over what a signature holds, with a line for itself without that digest."""
    told = signature.result if isinstance(signature.result, Mapping) else {}
    result = {name: value for name, value in told.items() if name != "digest"}
    own = entry_digest(replace(signature, result=result))
    return whole_digest({**held, signature.id: own})


def _builds_on(signature: Entry, there: Mapping[str, Entry]) -> tuple[Entry, ...]:
    """The signature and every one that was there when it was made, oldest first.

    Two people without signal may sign at the same time: neither holds what the other does.
    """
    found = {signature.id: signature}
    look = [signature]
    while look:
        one = look.pop()
        told = one.result.get("on") if isinstance(one.result, Mapping) else None
        # An older seal says nothing of it: it builds on each signature that it holds.
        for base in told if isinstance(told, list) else _held(one):
            if base not in found and base in there and there[base].kind == "signature":
                found[base] = there[base]
                look.append(there[base])
    return signatures(found.values())


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
    return _checked({one.id: one for one in entries}, digests_of(entries))


def digests_of(entries: Iterable[Entry]) -> dict[str, str]:
    """The digest of each entry, by its id."""
    return {one.id: entry_digest(one) for one in entries}


@dataclass(frozen=True, slots=True)
class Through:
    """A job that was read through: its entries, signatures whole and others in short, the digest
    of each, and what became of every seal.
    """

    there: Mapping[str, Entry]
    digests: Mapping[str, str]
    checked: tuple[Checked, ...]


def read_through(
    log: JobLog,
    job: str,
    each: Callable[[Stored], object] = lambda _: None,
    tell: Tell = lambda _: None,
) -> Through:
    """Read a job once; ``each`` sees every entry, ``tell`` how many were read.

    What was typed and worked out is not kept of any but a signature, as a job may hold more than
    the memory does.
    """
    there: dict[str, Entry] = {}
    digests: dict[str, str] = {}
    older, seq = False, 0
    while page := log.since(seq, _LOT, job_id=job):
        seq = page[-1].seq
        for one in page:
            digests[one.entry.id] = entry_digest(one.entry)
            there[one.entry.id] = one.entry if one.entry.kind == "signature" else _slim(one.entry)
            older |= one.entry.kind == "signature" and not _is_ours(one.entry)
            each(one)
        tell(len(there))
    # An older seal may hold an entry in a form that must be made from all of it.
    checked = check(all_entries(log, job)) if older else _checked(there, digests)
    return Through(there, digests, checked)


def _slim(entry: Entry) -> Entry:
    """What a list of what came after a signature tells of an entry."""
    said = entry.result if isinstance(entry.result, Mapping) else {}
    told = {name: said[name] for name in ("headline", "verdict") if name in said}
    words = said.get("said")
    if isinstance(words, Mapping) and told.get("headline") in words:
        told["said"] = {told["headline"]: words[told["headline"]]}
    return replace(entry, typed={}, facts={}, result=told or None)


def _is_ours(signature: Entry) -> bool:
    result = signature.result
    return isinstance(result, Mapping) and result.get("form") == FORM


def last_own(checked: Sequence[Checked], others: Collection[str]) -> Checked | None:
    """The last signature that no file brought in."""
    return next((one for one in reversed(checked) if one.signature.id not in others), None)


def brought_in(log: JobLog, job: str) -> frozenset[str]:
    """The entries of a job that somebody brought in: a signature among them is not one's own."""
    return frozenset(one.entry for one in log.marks(BROUGHT_IN, job))


def _checked(there: Mapping[str, Entry], digests: Mapping[str, str]) -> tuple[Checked, ...]:
    found: list[Checked] = []
    for signature in signatures(there.values()):
        held: dict[str, str] = {}
        wrong: dict[str, Text] = {}
        for base in _builds_on(signature, there):
            older = (base.result or {}).get("form") != FORM
            for one, digest in _held(base).items():
                if one not in there:
                    wrong[one] = say("is missing")
                elif digests[one] != digest and not (older and digest in _older(there[one])):
                    wrong[one] = say("was changed")
                held[one] = digest
        ours = (signature.result or {}).get("form") == FORM
        # All of it is under the seal, also what does not fit a signature.
        whole = _whole_with(there[signature.id], held) if ours else whole_digest(held)
        first, why = min(wrong.items(), default=("", ""))
        if not first and (signature.result or {}).get("digest") != whole:
            first, why = signature.id, say("does not hold the digest of what it lists")
        after = tuple(
            fitted(one)[0] for key, one in there.items() if key not in held and key != signature.id
        )
        found.append(Checked(signature, len(held), after, first, why))
    return tuple(found)
