"""Adding entries: the one way into the table, harmless to repeat."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import say
from fieldkit.joblog import arrival, fold
from fieldkit.joblog.entry import (
    COLUMNS,
    ENTRY_COLUMNS,
    Entry,
    Row,
    digest_of_new,
    row_of,
)

_SAME_ID = f"SELECT {ENTRY_COLUMNS} FROM entries WHERE id = ?"  # noqa: S608  -- our own names
_INSERT = (
    f"INSERT INTO entries ({ENTRY_COLUMNS}, received)"  # noqa: S608  -- our own names
    f" VALUES ({', '.join('?' * (len(COLUMNS) + 1))})"
)


@dataclass(frozen=True, slots=True)
class Appended:
    """What became of each entry, by id.

    ``stored`` are new, ``already`` were there and say the same, ``refused`` cannot be kept.
    """

    stored: tuple[str, ...]
    already: tuple[str, ...]
    refused: tuple[tuple[str, Problem], ...]


#: An entry that was checked, as the table keeps it, with its digest and when it arrived.
Good = tuple[Entry, Row, str, str]


def read_all(
    entries: Sequence[Entry], arrived: Sequence[str]
) -> tuple[list[Good], list[tuple[str, Problem]]]:
    """Check each entry before the file is touched: those to keep, and those refused."""
    good, refused = [], []
    for one, received in zip(entries, arrived, strict=True):
        try:
            good.append((one, row_of(one), digest_of_new(one), received))
        except Problem as problem:
            refused.append((str(one.id)[:80], problem))
    return good, refused


def add(
    conn: sqlite3.Connection, good: Sequence[Good]
) -> tuple[list[str], list[str], list[tuple[str, Problem]]]:
    """Insert and fold the checked entries; to be called inside a transaction."""
    stored: list[str] = []
    already: list[str] = []
    refused: list[tuple[str, Problem]] = []
    fitted: dict[int, Entry] = {}
    last = 0
    for one, row, digest, received in good:
        if one.joint and _job_of_joint(conn, one.joint) not in {None, one.job}:
            refused.append((one.id, _anothers_joint(one.joint)))
            continue
        try:
            inserted = conn.execute(_INSERT, (*row, received))
        except sqlite3.IntegrityError:
            # The trigger undid this statement alone: an entry with this id is there.
            here = conn.execute(_SAME_ID, (one.id,)).fetchone()
            if arrival.digest_of(here) == digest:
                already.append(one.id)
            else:
                refused.append((one.id, _conflict(one.id)))
        else:
            if inserted.rowcount != 1:  # a hand in the file can make an insert do nothing
                raise sqlite3.IntegrityError("the log took an entry and did not keep it")
            last = inserted.lastrowid or 0
            arrival.add(conn, arrival.leaf(one.id, digest, received))
            fitted[last] = fold.apply(conn, one)
            stored.append(one.id)
    filled = last // fold.SEARCH_LOT > (last - len(stored)) // fold.SEARCH_LOT
    if stored and (filled or len(stored) >= fold.A_LOT):
        fold.catch_up_search(conn, fitted)
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
