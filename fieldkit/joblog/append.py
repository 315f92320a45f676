"""Adding entries: the one way into the table, harmless to repeat."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import say
from fieldkit.joblog import fold
from fieldkit.joblog.entry import COLUMNS, ENTRY_COLUMNS, Entry, Row, row_of

_SAME_ID = f"SELECT {ENTRY_COLUMNS} FROM entries WHERE id = ?"  # noqa: S608  -- our own names
_INSERT = (
    f"INSERT INTO entries ({ENTRY_COLUMNS}, received)"  # noqa: S608  -- our own names
    f" VALUES ({', '.join('?' * (len(COLUMNS) + 1))})"
)


@dataclass(frozen=True, slots=True)
class Appended:
    """What became of each entry, by id.

    ``stored`` are new, ``already`` were there word for word, ``refused`` cannot be kept.
    """

    stored: tuple[str, ...]
    already: tuple[str, ...]
    refused: tuple[tuple[str, Problem], ...]


def read_all(entries: Sequence[Entry]) -> tuple[list[tuple[Entry, Row]], list[tuple[str, Problem]]]:
    """Check each entry before the file is touched: those to keep, and those refused."""
    good, refused = [], []
    for one in entries:
        try:
            good.append((one, row_of(one)))
        except Problem as problem:
            refused.append((str(one.id)[:80], problem))
    return good, refused


def add(
    conn: sqlite3.Connection, good: Sequence[tuple[Entry, Row]], received: str
) -> tuple[list[str], list[str], list[tuple[str, Problem]]]:
    """Insert and fold the checked entries; to be called inside a transaction."""
    stored: list[str] = []
    already: list[str] = []
    refused: list[tuple[str, Problem]] = []
    last = 0
    for one, row in good:
        if one.joint and _job_of_joint(conn, one.joint) not in {None, one.job}:
            refused.append((one.id, _anothers_joint(one.joint)))
            continue
        try:
            last = conn.execute(_INSERT, (*row, received)).lastrowid or 0
        except sqlite3.IntegrityError:
            # The trigger undid this statement alone: an entry with this id is there.
            if tuple(conn.execute(_SAME_ID, (one.id,)).fetchone()) == row:
                already.append(one.id)
            else:
                refused.append((one.id, _conflict(one.id)))
        else:
            fold.apply(conn, one)
            stored.append(one.id)
    if last and last // fold.SEARCH_LOT > (last - len(stored)) // fold.SEARCH_LOT:
        fold.catch_up_search(conn)
    return stored, already, refused


def _job_of_joint(conn: sqlite3.Connection, joint: str) -> str | None:
    """The job in which a joint was made; None where it is new."""
    row = conn.execute("SELECT job FROM joints WHERE id = ? ORDER BY rowid", (joint,)).fetchone()
    return None if row is None else str(row[0])


def _anothers_joint(joint: str) -> Problem:
    return Problem(
        "joint",
        joint,
        say("This joint belongs to another job."),
        say("Name the job in which the joint was made."),
    )


def _conflict(entry_id: str) -> Problem:
    return Problem(
        "id",
        entry_id,
        say("The log holds another entry with this id."),
        say("Nothing was overwritten. Send what is new as a new entry with its own id."),
    )
