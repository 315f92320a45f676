"""What this copy has to say of an entry: where it came from, and what does not hold of it.

An entry is never changed, so this stands beside it. Phones are told with the entry; a seal does
not cover it, since each copy knows other things of the same entry.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from fieldkit.engine.words import Quote, Text, say
from fieldkit.joblog.entry import is_id, json_text

#: Parts of it do not fit its kind and are set aside: said {parts}. A read model, made anew with
#: the others.
UNFIT = "unfit"
#: Its answers lead to another result: said {why}.
NOT_REPRODUCED = "not reproduced"
#: Somebody brought it in from a file or from what was refused: said {by, at}.
BROUGHT_IN = "brought in"

#: Marks that a copy gets from the one that made them.
TOLD = (NOT_REPRODUCED, BROUGHT_IN)


@dataclass(frozen=True, slots=True)
class Mark:
    """One thing said of one entry."""

    entry: str
    job: str
    mark: str
    said: Mapping[str, Any]

    def as_json(self) -> dict[str, Any]:
        """All of it as JSON values, under an id that no entry can have."""
        named = {"id": f"{self.mark}: {self.entry}", "entry": self.entry, "job": self.job}
        return {**named, "mark": self.mark, "said": dict(self.said)}


def is_told(body: object) -> bool:
    """Whether this is a mark as one copy tells it to another, and no entry."""
    return isinstance(body, Mapping) and "mark" in body and isinstance(body.get("id"), str)


def words_of(mark: Mark) -> Text:
    """A mark as it stands beside its entry on pages and records."""
    by = mark.said.get("by")
    if mark.mark == NOT_REPRODUCED:
        return say("Not reproduced: its answers lead to another result. Do not go by it.")
    if mark.mark == BROUGHT_IN and mark.said.get("from") == "file":
        return say("From a file, brought in by {who}", who=Quote(by)) if by else say("From a file")
    if mark.mark == BROUGHT_IN:
        return (
            say("Refused first, taken in by {who}", who=Quote(by))
            if by
            else say("Refused first, then taken in")
        )
    return say("Set aside, as it does not fit: {parts}", parts=Quote(mark.said.get("parts", "")))


def put(conn: sqlite3.Connection, marks: Iterable[Mark]) -> None:
    """Say something of entries; what was said before under the same mark is said no more."""
    conn.executemany(
        "INSERT OR REPLACE INTO marks VALUES (?, ?, ?, ?)",
        ((one.entry, one.job, one.mark, json_text(one.said)) for one in marks),
    )


def found(
    conn: sqlite3.Connection, mark: str = "", job: str | None = None, *, limit: int = -1
) -> tuple[Mark, ...]:
    """What is said, under one mark or of one job or both, the last entry first."""
    asked = {"mark = ?": mark, "job = ?": job}
    asked = {where: value for where, value in asked.items() if value not in {"", None}}
    rows = conn.execute(
        "SELECT entry, job, mark, said FROM marks"  # noqa: S608  -- our own names
        f" WHERE {' AND '.join(asked) or 1} ORDER BY entry DESC LIMIT ?",
        (*asked.values(), limit),
    )
    return tuple(map(_mark, rows))


def of_entries(conn: sqlite3.Connection, entries: Iterable[str]) -> tuple[Mark, ...]:
    """What another copy should know of these entries."""
    return tuple(mark for entry in entries for mark in of_entry(conn, entry) if mark.mark in TOLD)


def among(conn: sqlite3.Connection, entries: Iterable[str], mark: str) -> list[str]:
    """Those of some entries that are under a mark, however many others are."""
    rows = conn.execute(
        "SELECT entry FROM marks WHERE mark = ? AND entry IN (SELECT value FROM json_each(?))",
        (mark, json_text(list(entries))),
    )
    return [row[0] for row in rows]


def of_entry(conn: sqlite3.Connection, entry: str) -> tuple[Mark, ...]:
    """What is said of one entry."""
    rows = conn.execute("SELECT entry, job, mark, said FROM marks WHERE entry = ?", (entry,))
    return tuple(map(_mark, rows))


def _mark(row: sqlite3.Row) -> Mark:
    return Mark(row[0], row[1], row[2], json.loads(row[3]))


def read_marks(bodies: Iterable[Mapping[str, Any]]) -> tuple[Mark, ...]:
    """The marks that another copy tells, those left out that are none."""
    read = []
    for body in bodies:
        if body.get("mark") not in TOLD:
            continue
        entry, job, said = body.get("entry"), body.get("job"), body.get("said")
        if isinstance(entry, str) and is_id(entry) and isinstance(job, str):
            words = said if isinstance(said, Mapping) else {}
            plain = {str(k)[:40]: str(v)[:400] for k, v in words.items() if isinstance(v, str)}
            read.append(Mark(entry, job[:64], str(body["mark"]), plain))
    return tuple(read)
