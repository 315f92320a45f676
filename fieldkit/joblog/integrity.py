"""Whether a log is whole: its layout, its seals, what arrived, and what it says its jobs are now.

A hand in the file can take guards away or add its own, change, remove or swap entries, or change
what the pages read instead of the entries. Each of these is looked for here.
"""

from __future__ import annotations

import sqlite3
import tempfile
from collections.abc import Iterable, Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import say
from fieldkit.joblog import arrival, fold
from fieldkit.joblog.arrival import Compared
from fieldkit.joblog.backup import digest_of, photo_files, photos_known
from fieldkit.joblog.log import JobLog
from fieldkit.joblog.signing import Checked, read_through


@dataclass(frozen=True, slots=True)
class Layout:
    """How the file is laid out beside a new log.

    ``missing`` are the names of what it lacks or has in other words, ``extra`` of what is more.
    """

    missing: tuple[str, ...]
    extra: tuple[str, ...]


def layout(log: JobLog) -> Layout:
    """Compare tables with their constraints, indexes and guards with those of a new log."""
    with JobLog.memory() as new:
        wanted, found = _laid_out(new), _laid_out(log)
    missing = {name for name, _ in wanted - found}
    extra = {name for name, _ in found - wanted} - missing
    return Layout(tuple(sorted(missing)), tuple(sorted(extra)))


def _laid_out(log: JobLog) -> set[tuple[str, str]]:
    with log.reading() as conn:
        # The tables behind the search are SQLite's own, and another version may lay them out anew.
        rows = conn.execute(
            "SELECT name, type, tbl_name, sql FROM sqlite_master WHERE name NOT LIKE 'sqlite_stat%'"
            " AND (type <> 'table' OR name NOT IN ('search_data', 'search_idx', 'search_config',"
            " 'search_content', 'search_docsize'))"
        )
        return {(str(row[0]), " ".join(f"{row[1]} {row[2]} {row[3]}".split())) for row in rows}


def unsound(log: JobLog) -> str:
    """What SQLite finds wrong in the file, such as a row against a constraint; empty: nothing."""
    with log.reading() as conn:
        found = str(conn.execute("PRAGMA integrity_check(1)").fetchone()[0])
    return "" if found == "ok" else found


def arrivals(log: JobLog) -> Compared:
    """What arrived, beside what is there now."""
    with log.reading() as conn:
        return arrival.compare(conn)


def photos(log: JobLog, folder: Path) -> tuple[tuple[str, ...], int]:
    """Read every photo: those that are not what their digest says, and how many are not here."""
    with log.reading() as conn:
        known = photos_known(conn)
    here = dict(photo_files(folder))
    changed = (name for name in sorted(known & here.keys()) if digest_of(here[name]) != name)
    return tuple(changed), len(known - here.keys())


def seals(log: JobLog) -> Iterator[tuple[str, Checked]]:
    """Every seal of every job, worked out again: (job, what became of it).

    Raises
    ------
    Problem
        An entry of a signed job cannot be read any more.
    """
    with log.reading() as conn:
        rows = conn.execute("SELECT DISTINCT job FROM entries WHERE kind = 'signature' ORDER BY 1")
        signed = [str(row[0]) for row in rows]
    for job in signed:
        try:
            checked = read_through(log, job).checked
        except (ValueError, TypeError) as error:
            raise _unreadable(job, error) from error
        yield from ((job, one) for one in checked)


def broken_among(found: Iterable[tuple[str, Checked]]) -> Iterator[str]:
    """Those of some seals that do not hold, each in a line."""
    for job, one in found:
        if not one.whole:
            yield f"job {job}, entry {one.wrong} {one.why}"


def _unreadable(job: str, error: Exception) -> Problem:
    return Problem(
        "db",
        job,
        say("Job {job}: an entry cannot be read any more ({why}).", job=job or "?", why=str(error)),
        say("Take the log from a backup: {command}.", command="fieldkit restore FILE"),
    )


def drifted(log: JobLog) -> tuple[str, ...]:
    """The jobs that the log says are otherwise than their entries make them, the first first.

    The log is copied to a place of its own and its jobs are worked out there anew.

    Raises
    ------
    Problem
        An entry cannot be read any more.
    """
    with tempfile.TemporaryDirectory() as folder, closing(_copy(log, Path(folder))) as anew:
        # The copy is ours alone and gone in a moment: no need to wait for the disk.
        anew.execute("PRAGMA synchronous=OFF")
        anew.execute("BEGIN IMMEDIATE")
        before = [_said(anew, table) for table in fold.READ_MODELS]
        try:
            fold.rebuild(anew)
        except (ValueError, TypeError) as error:
            raise _unreadable("", error) from error
        after = [_said(anew, table) for table in fold.READ_MODELS]
        anew.execute("COMMIT")
    differing = [old ^ new for old, new in zip(before, after, strict=True)]
    return tuple(sorted({job for rows in differing for job, _ in rows}))


def _copy(log: JobLog, folder: Path) -> sqlite3.Connection:
    conn = sqlite3.connect(folder / "copy.db", isolation_level=None)
    conn.row_factory = sqlite3.Row
    with log.reading() as source:
        source.backup(conn)
    return conn


def _said(conn: sqlite3.Connection, table: str) -> set[tuple[str, str]]:
    order = fold.READ_MODELS[table]
    rows = conn.execute(f"SELECT * FROM {table} ORDER BY {order}")  # noqa: S608  -- our own names
    job = "id" if table == "jobs" else "job"
    return {(str(row[job]), repr(tuple(row))) for row in rows}
