"""What a job and a joint are now: each entry is folded in once, in whatever order it arrives.

The last writer wins, name by name, by (``at``, entry id). That order does not depend on which
phone was in reach first, so two logs with the same entries always say the same.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator, Mapping
from contextlib import suppress
from datetime import datetime
from typing import Any

from fieldkit.flows.catalogue import flows
from fieldkit.flows.checklist import point_name
from fieldkit.flows.fact_words import fact_told
from fieldkit.joblog import crew, door, marks
from fieldkit.joblog.entry import ENTRY_COLUMNS, Entry, json_text, wary_entry_of

#: The tables that are made of entries alone, and in which order their rows are compared.
READ_MODELS = {
    "jobs": "id",
    "joints": "job, id",
    "crew": "job, joint",
    "taught": "job, joint, at, entry",
    "waivers": "job, joint, point, entry",
}

#: name → {value, at, entry}: what is held, and which entry said so.
Held = dict[str, dict[str, Any]]

_NAME_LIMIT = 200

#: A save leaves the search index alone: it catches up each time so many have come in, and with
#: every lot, whose entries are at hand.
SEARCH_LOT = 256
A_LOT = 10
_WORDS_LIMIT = 4000


def apply(conn: sqlite3.Connection, entry: Entry, left_out: tuple[str, ...] = ()) -> Entry:
    """Fold one entry, already in the table, into the read models; returns what of it fits.

    Saving on a server, saving on a phone and taking in another phone's entries all pass here.
    What in it does not fit its kind counts nowhere, and its name is kept.
    """
    entry, wrong = door.fitted(entry)
    if wrong or left_out:
        said = {"parts": ", ".join((*left_out, *wrong))}
        marks.put(conn, [marks.Mark(entry.id, entry.job, marks.UNFIT, said)])
    if entry.job:
        more = _apply_to_joint(conn, entry) if entry.joint else 0
        _apply_to_job(conn, entry, more)
        crew.apply(conn, entry)
    return entry


def take(held: Held, name: str, value: dict[str, Any]) -> bool:
    """Put ``value`` (with its ``at`` and ``entry``) under ``name`` if it is the later one.

    Examples
    --------
    >>> held = {"od": {"value": 1, "at": "2026-05-02", "entry": "b"}}
    >>> take(held, "od", {"value": 2, "at": "2026-05-01", "entry": "c"})
    False
    """
    old = held.get(name)
    if old is not None and (old["at"], old["entry"]) >= (value["at"], value["entry"]):
        return False
    held[name] = value
    return True


def _apply_to_joint(conn: sqlite3.Connection, entry: Entry) -> int:
    """Fold into the joint's row; how many more joints its job has: 1 for a new one, less moved."""
    about, states = joint_about(entry), joint_states(entry)
    where = (entry.job, entry.joint)
    if not (about or states or entry.facts):
        touched = conn.execute(
            "UPDATE joints SET opened_at = min(opened_at, ?3), last_at = max(last_at, ?3),"
            " entries = entries + 1 WHERE job = ?1 AND id = ?2",
            (*where, entry.at),
        )
        if touched.rowcount:
            return 0
    old = conn.execute(
        "SELECT about, facts, states FROM joints WHERE job = ? AND id = ?", where
    ).fetchone()
    kept = [{}, {}, {}] if old is None else [json.loads(old[n]) for n in range(3)]
    was_moved = "moved_to" in kept[0]
    stamp = {"at": entry.at, "entry": entry.id}
    for held, gained in zip(
        kept,
        (about, {name: {"value": value} for name, value in entry.facts.items()}, states),
        strict=True,
    ):
        for name, value in gained.items():
            take(held, name, value | stamp)
    conn.execute(
        "INSERT INTO joints (job, id, name, opened_at, last_at, entries, about, facts, states)"
        " VALUES (?, ?, ?, ?, ?, 1, ?, ?, ?) ON CONFLICT (job, id) DO UPDATE SET"
        " name = excluded.name, opened_at = min(opened_at, excluded.opened_at),"
        " last_at = max(last_at, excluded.last_at), entries = entries + 1,"
        " about = excluded.about, facts = excluded.facts, states = excluded.states",
        (
            entry.job,
            entry.joint,
            kept[0].get("name", {}).get("value", ""),
            entry.at,
            entry.at,
            *map(json_text, kept),
        ),
    )
    return (old is None) - ("moved_to" in kept[0] and not was_moved)


def _apply_to_job(conn: sqlite3.Connection, entry: Entry, more: int) -> None:
    day = entry.at[:10]
    conn.execute(
        "INSERT INTO jobs (id, opened_at, last_at, last_day, joints, entries)"
        " VALUES (?1, ?2, ?2, ?3, ?4, 1) ON CONFLICT (id) DO UPDATE SET"
        " opened_at = min(opened_at, excluded.opened_at),"
        " last_at = max(last_at, excluded.last_at),"
        " joints = joints + excluded.joints, entries = entries + 1",
        (entry.job, entry.at, day, more),
    )
    conn.execute("UPDATE jobs SET last_day = ?2 WHERE id = ?1 AND last_day < ?2", (entry.job, day))
    if not (about := job_about(entry)):
        return
    held: Held = json.loads(
        conn.execute("SELECT about FROM jobs WHERE id = ?", (entry.job,)).fetchone()[0]
    )
    for name, value in about.items():
        take(held, name, {"value": value, "at": entry.at, "entry": entry.id})
    conn.execute(
        "UPDATE jobs SET name = ?, place = ?, demo = ?, closed = ?, about = ? WHERE id = ?",
        (
            held.get("name", {}).get("value", ""),
            held.get("place", {}).get("value", ""),
            int(held.get("demo", {}).get("value", False)),
            int(held.get("closed", {}).get("value", False)),
            json_text(held),
            entry.job,
        ),
    )


def job_about(entry: Entry) -> dict[str, Any]:
    """What the entry says about its job: name, place, demo, closed."""
    if entry.joint or entry.kind not in {"job", "rename", "close"}:
        return {}
    said = entry.understood if isinstance(entry.understood, Mapping) else {}
    about: dict[str, Any] = _names(said, ("name", "place"))
    if entry.kind == "job" and "demo" in said:
        about["demo"] = said["demo"] is True
    if entry.kind == "close":
        about["closed"] = said.get("closed", True) is True
    return about


def joint_about(entry: Entry) -> Held:
    """What the entry says about its joint: its name, and where it was moved to."""
    if entry.kind == "close":
        to = entry.typed.get("moved_to")
        return {"moved_to": {"value": to[0]}} if isinstance(to, list) and to else {}
    if entry.kind not in {"joint", "rename"} or not isinstance(entry.understood, Mapping):
        return {}
    return {name: {"value": said} for name, said in _names(entry.understood, ("name",)).items()}


def joint_states(entry: Entry) -> Held:
    """How a flow stands at the joint: its last result, or none when that was struck out."""
    if not entry.flow:
        return {}
    if entry.kind == "result" and entry.result is not None:
        said = entry.result
        return {
            entry.flow: {
                "verdict": str(said.get("verdict", "")),
                "headline": str(said.get("headline", "")),
                "said": _headline_said(said),
                "run": entry.run,
            }
        }
    if entry.kind == "strike" and not entry.step:
        return {entry.flow: {"verdict": None, "headline": "", "run": entry.run}}
    return {}


def _headline_said(result: Mapping[str, Any]) -> Any:
    """The template and parts of a result's headline, where it was made with figures."""
    said = result.get("said")
    return said.get(result.get("headline")) if isinstance(said, Mapping) else None


def _names(said: Mapping[str, Any], keys: tuple[str, ...]) -> dict[str, Any]:
    return {key: said[key][:_NAME_LIMIT] for key in keys if isinstance(said.get(key), str)}


# ── Search ──────────────────────────────────────────────────────────────────────────────────


#: Kinds of entry that are found by who made them and when; each answer by itself is not.
_DATED = frozenset(
    {"job", "joint", "rename", "close", "result", "pick", "note", "signature", "photo"}
)

#: Facts that are found by their words, and what people type for a verdict.
_FOUND_BY = (
    "test.verdict",
    "thread.verdict",
    "tube_end.verdict",
    "last.verdict",
    "leak.cause",
    "leak.really",
    "leak.joint",
    "site.stop",
    "pipe.other_kind",
    "tube.other_kind",
)
_TYPED_FOR = {
    "leaks": "leaking failed not passed",
    "holds": "passed held tight",
    "repeat": "test again not passed",
    "lets_go": "failed",
}


def words_of(entry: Entry) -> str:
    """The words that an entry can be found by.

    Names, notes, headlines, what was typed; verdicts, causes and parts in words; who and when.
    """
    found = [entry.note]
    if entry.kind in {"job", "joint", "rename", "pick", "photo"}:
        found.extend(_texts(entry.understood))
    if entry.result is not None:
        found.append(str(entry.result.get("headline", "")))
    found.extend(_texts(entry.typed))
    if entry.kind in _DATED:
        found.extend(_words_beside(entry))
    return " ".join(word for word in found if word)[:_WORDS_LIMIT]


def _words_beside(entry: Entry) -> Iterator[str]:
    """What stands in no text of the entry: who, when, and its codes in words."""
    yield entry.who
    with suppress(ValueError):  # a time that a hand wrote
        made = datetime.fromisoformat(entry.at)
        yield f"{made:%Y-%m-%d %d %B %Y}"
    if entry.kind == "result" and entry.flow in flows():
        yield flows()[entry.flow].title
    for name in _FOUND_BY:
        if (value := entry.facts.get(name)) is not None:
            yield str(fact_told(name, value, entry.facts) or value)
            yield _TYPED_FOR.get(str(value), "")
    assembly = entry.facts.get("parts.assembly")
    if isinstance(assembly, Mapping):
        for part in assembly["parts"]:
            yield f"{part.get('name', '')} {part.get('trade_name', '')}"
    if entry.kind == "close":
        yield "finished archived"
    if entry.kind == "signature" and isinstance(entry.understood, Mapping):
        yield f"signed {entry.understood.get('name', '')}"
        for gap in entry.understood.get("waived", ()):
            yield f"waived {point_name(gap['point'])} {gap.get('reason', '')}"


def _texts(value: object) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping):
        for part in value.values():
            yield from _texts(part)
    elif isinstance(value, list | tuple):
        for part in value:
            yield from _texts(part)


def catch_up_search(conn: sqlite3.Connection, at_hand: Mapping[int, Entry] | None = None) -> None:
    """Bring the search index up to the last entry; to be called inside a transaction.

    ``at_hand`` are entries, by seq, that were read and fitted a moment ago.
    """
    known = at_hand or {}
    upto: int = conn.execute("SELECT seq FROM searched").fetchone()[0]
    rows = conn.execute(
        f"SELECT {ENTRY_COLUMNS}, seq FROM entries WHERE seq > ? ORDER BY seq",  # noqa: S608
        (upto,),
    )

    def words() -> Iterator[tuple[int, str]]:
        nonlocal upto
        for row in rows:
            upto = row["seq"]
            if text := words_of(known.get(upto) or door.fitted(wary_entry_of(row)[0])[0]):
                yield upto, text

    conn.executemany("INSERT INTO search (rowid, words) VALUES (?, ?)", words())
    conn.execute("UPDATE searched SET seq = ?", (upto,))


# ── All of it again ─────────────────────────────────────────────────────────────────────────


def rebuild(conn: sqlite3.Connection) -> int:
    """Make every read model again from the entries; to be called inside a transaction.

    Returns
    -------
    int
        How many entries were folded in.
    """
    for table in READ_MODELS:
        conn.execute(f"DELETE FROM {table}")  # noqa: S608  -- our own names
    conn.execute("DELETE FROM marks WHERE mark = ?", (marks.UNFIT,))
    conn.execute("INSERT INTO search (search) VALUES ('delete-all')")
    conn.execute("UPDATE searched SET seq = 0")
    count = 0
    for row in conn.execute(f"SELECT {ENTRY_COLUMNS} FROM entries ORDER BY seq"):  # noqa: S608
        apply(conn, *wary_entry_of(row))
        count += 1
    catch_up_search(conn)
    conn.execute("UPDATE looked_through SET form = ?", (door.FORM,))
    return count


def look_through(conn: sqlite3.Connection) -> None:
    """Make the read models again where they were made by other shapes than those of now."""
    if conn.execute("SELECT form FROM looked_through").fetchone()[0] == door.FORM:
        return
    conn.execute("BEGIN IMMEDIATE")
    try:
        rebuild(conn)
    except BaseException:
        conn.execute("ROLLBACK")
        raise
    conn.execute("COMMIT")
