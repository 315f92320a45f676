"""``JobLog``: the door to one file of entries, safe to use from several threads and programs."""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from functools import cached_property
from pathlib import Path
from typing import Any, Self

from sqlite_utils import Database

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import say
from fieldkit.joblog import append as adding
from fieldkit.joblog import arrival, crew, fold, marks, read, schema
from fieldkit.joblog.append import Appended
from fieldkit.joblog.arrival import Head
from fieldkit.joblog.crew import CrewJoint, Waiver
from fieldkit.joblog.entry import Entry, json_text, just_after
from fieldkit.joblog.marks import Mark
from fieldkit.joblog.read import Hit, JobNow, JointNow, Prices, RunNow, Stored, Taught


class JobLog:
    """The log in one file.

    Readers never wait. Writers take turns: threads at a lock, programs at SQLite's own. A
    connection is lent to one thread at a time and kept for the next, so there are never more
    of them than were needed at once.
    """

    def __init__(self, path: Path | None, *, wal: bool = True) -> None:
        self.path = path
        self._wal = wal
        self._idle: list[Database] = []
        self._pool = threading.Lock()
        self._turn = threading.RLock()
        self._closed = False
        try:
            with self._connection() as conn:
                migrated = schema.migrate(conn)
                fold.look_through(conn)
            if migrated:
                self._catch_up_search()
        except BaseException:
            self.close()
            raise

    @classmethod
    def open(cls, path: str | Path, *, wal: bool = True) -> Self:
        """Open the file, and make it if it is not there; a browser opens it without ``wal``.

        Raises
        ------
        Problem
            The file is something else, or cannot be written.
        """
        try:
            return cls(Path(path), wal=wal)
        except (sqlite3.Error, OSError) as error:
            why = error.strerror if isinstance(error, OSError) else str(error)
            raise Problem(
                "db",
                str(path),
                say("The log {path} could not be opened: {why}.", path=path, why=why),
                schema.what_helps(error),
            ) from error

    @classmethod
    def memory(cls) -> Self:
        """A log that is gone when it is closed: one connection, taken in turns."""
        return cls(None)

    def close(self) -> None:
        """Close every connection that is not in use."""
        with self._pool:
            self._closed = True
            idle, self._idle = self._idle, []
        for database in idle:
            database.conn.close()

    def __enter__(self) -> Self:
        """Use the log in a ``with`` block, which closes it."""
        return self

    def __exit__(self, *exc: object) -> None:
        """Close the log."""
        self.close()

    # ── Writing ─────────────────────────────────────────────────────────────────────────────

    def append(self, entries: Sequence[Entry], received: str | Sequence[str]) -> Appended:
        """Add entries; sending them again does no harm.

        The good ones are kept together or, if the file fails, not at all. When this returns
        they are on the disk.

        Parameters
        ----------
        entries : sequence of Entry
            In any order, from any device.
        received : str or sequence of str
            When they arrived here, or each of them, UTC, as ``Entry.at``.
        """
        arrived = [received] * len(entries) if isinstance(received, str) else received
        good, refused = adding.read_all(entries, arrived)
        if not good:
            return Appended((), (), tuple(refused))
        with self.writing() as conn:
            stored, already, conflicts = adding.add(conn, good)
        return Appended(tuple(stored), tuple(already), (*refused, *conflicts))

    def set_aside(
        self, refused: Sequence[tuple[str, str, Mapping[str, Any], str]], received: str
    ) -> None:
        """Keep what was refused (name, body, reason, sender), once each; never in the log."""
        if not refused:
            return
        rows = [(name, body, json_text(why), who, received) for name, body, why, who in refused]
        with self.writing() as conn:
            conn.executemany("INSERT OR IGNORE INTO refused VALUES (?, ?, ?, ?, ?)", rows)
            # The newest thousand are enough to look at.
            conn.execute(
                "DELETE FROM refused WHERE (name, body) IN (SELECT name, body FROM refused"
                " ORDER BY received DESC LIMIT -1 OFFSET 1000)"
            )

    def refused(self) -> tuple[dict[str, str], ...]:
        """What was set aside, the newest first: name, body, reason, who, received."""
        with self.reading() as conn:
            rows = conn.execute("SELECT * FROM refused ORDER BY received DESC, name LIMIT 1000")
            return tuple(dict(row) for row in rows)

    def no_longer_refused(self, name: str, body: str) -> None:
        """Take one off the list of what was set aside: it is in the log now."""
        with self.writing() as conn:
            conn.execute("DELETE FROM refused WHERE name = ? AND body = ?", (name, body))

    def mark(self, said: Sequence[Mark]) -> None:
        """Say something of entries that stands in no entry."""
        if said:
            with self.writing() as conn:
                marks.put(conn, said)

    def unmark(self, mark: str, entries: Sequence[str]) -> None:
        """Say no more of entries what was said under a mark."""
        if entries:
            with self.writing() as conn:
                conn.executemany(
                    "DELETE FROM marks WHERE entry = ? AND mark = ?",
                    ((entry, mark) for entry in entries),
                )

    def marks(self, mark: str = "", job: str | None = None, *, limit: int = -1) -> tuple[Mark, ...]:
        """What is said of entries, under one mark and of one job if they are named."""
        with self.reading() as conn:
            return marks.found(conn, mark=mark, job=job, limit=limit)

    def marks_on(self, entry: str) -> tuple[Mark, ...]:
        """What is said of one entry."""
        with self.reading() as conn:
            return marks.of_entry(conn, entry)

    def marks_of(self, entries: Sequence[str]) -> tuple[Mark, ...]:
        """What another copy should know of these entries."""
        with self.reading() as conn:
            return marks.of_entries(conn, entries)

    def price_history(self, limit: int = 100) -> tuple[Entry, ...]:
        """The price lists that were ever saved, the newest first."""
        with self.reading() as conn:
            return read.price_history(conn, limit)

    def rebuild(self) -> int:
        """Make every read model again from the entries; returns how many there are."""
        with self.writing() as conn:
            return fold.rebuild(conn)

    # ── Reading ─────────────────────────────────────────────────────────────────────────────

    def jobs(
        self, limit: int = 50, after: tuple[str, str] | None = None, *, closed: bool | None = None
    ) -> tuple[JobNow, ...]:
        """Jobs, the one touched last first; ``after`` is the ``.after`` of the last one seen.

        ``closed`` tells open jobs from closed ones; without it come both.
        """
        with self.reading() as conn:
            return read.jobs(conn, limit, after, closed)

    def job(self, job_id: str) -> JobNow | None:
        """One job as it is now."""
        with self.reading() as conn:
            return read.job(conn, job_id)

    def doubted_of(self, jobs: Iterable[str]) -> frozenset[str]:
        """Those of some jobs that rest on a result which was not reproduced."""
        with self.reading() as conn:
            return frozenset(one for one in jobs if read.is_doubted(conn, one))

    def joints(self, job_id: str) -> tuple[JointNow, ...]:
        """The joints of a job as they are now, oldest first."""
        with self.reading() as conn:
            return read.joints(conn, job_id)

    def joints_knowing(self, fact: str) -> tuple[JointNow, ...]:
        """The joints, of any job, that know a fact."""
        with self.reading() as conn:
            return read.joints_knowing(conn, fact)

    def curing(self, job_id: str, after: str) -> tuple[JointNow, ...]:
        """The joints of a job whose cement is ready after a time, the last first."""
        with self.reading() as conn:
            return read.curing(conn, job_id, after)

    def joint(self, joint_id: str, job_id: str = "") -> JointNow | None:
        """One joint as it is now."""
        with self.reading() as conn:
            return read.joint(conn, joint_id, job_id)

    def run(self, run_id: str, job_id: str, joint_id: str, flow_id: str) -> RunNow | None:
        """One going through of a flow at a joint as it is now."""
        with self.reading() as conn:
            return read.run(conn, run_id, job_id, joint_id, flow_id)

    def history(
        self,
        *,
        job_id: str = "",
        joint_id: str = "",
        before_seq: int | None = None,
        limit: int = 20,
    ) -> tuple[Stored, ...]:
        """Entries of a job or a joint, the last to arrive first; go on below the last seq."""
        with self.reading() as conn:
            return read.history(conn, job_id, joint_id, before_seq, limit)

    def taught(self, job_id: str, names: tuple[str, ...]) -> tuple[Taught, ...]:
        """What the entries of a job taught of some facts, in order of time."""
        with self.reading() as conn:
            return read.taught(conn, job_id, names)

    def entry(self, entry_id: str) -> Stored | None:
        """One entry by its id."""
        with self.reading() as conn:
            return read.entry(conn, entry_id)

    def since(self, seq: int, limit: int = 500, *, job_id: str = "") -> tuple[Stored, ...]:
        """Entries that arrived after ``seq``, in order of arrival; of one job if it is named."""
        with self.reading() as conn:
            return read.since(conn, seq, job_id, limit)

    def in_turn(self, job_id: str, at: str) -> str:
        """The time of an entry that is made now: ``at``, but never before what is here of its job.

        A hybrid logical clock, kept in the time itself: whoever corrects something has seen it, so
        the correction counts as later, whosever clock is wrong.

        Source
        ------
        Kulkarni et al., "Logical physical clocks", 2014 (from memory).
        """
        with self.reading() as conn:
            last = read.last_at(conn, job_id)
        return at if at >= last else just_after(last)

    def search(self, text: str, limit: int = 20, before_seq: int | None = None) -> tuple[Hit, ...]:
        """Entries that hold all the words, each taken as a beginning; last arrived first.

        Go on below the ``seq`` of the last one seen.
        """
        self._catch_up_search()
        with self.reading() as conn:
            return read.search(conn, text, limit, before_seq)

    def _catch_up_search(self) -> None:
        with self.reading() as conn:
            behind = conn.execute(
                "SELECT (SELECT coalesce(max(seq), 0) FROM entries) > seq FROM searched"
            ).fetchone()[0]
        if behind:
            with self.writing() as conn:
                fold.catch_up_search(conn)

    def photos(self, job_id: str, joint_id: str) -> tuple[Entry, ...]:
        """The photos of a joint, oldest first."""
        with self.reading() as conn:
            return read.photos(conn, job_id, joint_id)

    def photo_named(self, digest: str) -> Entry | None:
        """The entry that names a photo by the digest of its bytes."""
        with self.reading() as conn:
            return read.photo_named(conn, digest)

    @cached_property
    def company(self) -> str:
        """Whose log this is: an id that every copy of it carries along."""
        with self.reading() as conn:
            return str(conn.execute("SELECT id FROM company").fetchone()[0])

    def crew(self) -> tuple[list[CrewJoint], list[Waiver]]:
        """Every joint as a lead looks at it, and what was signed without."""
        with self.reading() as conn:
            return crew.all_joints(conn), crew.waivers(conn)

    def prices(self) -> Prices:
        """The latest price list."""
        with self.reading() as conn:
            return read.prices(conn)

    def head(self, size: int | None = None) -> Head | None:
        """The head of all that arrived, or of the first ``size``; None: so many never arrived."""
        with self.reading() as conn:
            return arrival.head(conn, size)

    def grown_since(self, size: int) -> tuple[Head, list[str]]:
        """The head of now, and what leads there from the head of ``size`` entries."""
        with self.reading() as conn:
            now = arrival.head(conn)
            assert now is not None  # noqa: S101  -- there is always one of now
            return now, arrival.proof(conn, size, now.size)

    def count(self) -> int:
        """How many entries there are."""
        with self.reading() as conn:
            return read.count(conn)

    # ── Connections ─────────────────────────────────────────────────────────────────────────

    @contextmanager
    def reading(self) -> Iterator[sqlite3.Connection]:
        """A connection to read with."""
        if self.path is None:  # one connection holds the whole database: take turns
            with self._turn, self._connection() as conn:
                yield conn
        else:
            with self._connection() as conn:
                yield conn

    @contextmanager
    def writing(self) -> Iterator[sqlite3.Connection]:
        """A transaction that has the right to write from its start; undone on any error."""
        with self._turn, self._connection() as conn:
            conn.execute("BEGIN IMMEDIATE")
            try:
                yield conn
                conn.execute("COMMIT")
            except BaseException:
                if conn.in_transaction:
                    conn.execute("ROLLBACK")
                raise

    @contextmanager
    def _connection(self) -> Iterator[sqlite3.Connection]:
        with self._pool:
            if self._closed:
                raise sqlite3.ProgrammingError("this log is closed")
            database = self._idle.pop() if self._idle else None
        if database is None:
            database = schema.connect(self.path, wal=self._wal)
        try:
            yield database.conn
        finally:
            with self._pool:
                if not self._closed:
                    self._idle.append(database)
                    database = None
            if database is not None:
                database.conn.close()
