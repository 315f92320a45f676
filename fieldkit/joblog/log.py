"""``JobLog``: the door to one file of entries, safe to use from several threads and programs."""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager, contextmanager
from functools import cached_property, wraps
from pathlib import Path
from typing import Any, Concatenate, ParamSpec, Self, TypeVar

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
from fieldkit.joblog.read import Hit

P = ParamSpec("P")
R = TypeVar("R")


def _asked(
    question: Callable[Concatenate[sqlite3.Connection, P], R],
) -> Callable[Concatenate[JobLog, P], R]:
    """A question to the file as a method of the log, which lends it a connection."""

    @wraps(question)
    def ask(self: JobLog, /, *args: P.args, **kwargs: P.kwargs) -> R:
        with self.reading() as conn:
            return question(conn, *args, **kwargs)

    return ask


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
        #: Where the file is as it was before this version brought it to its own form.
        self.copied_first: Path | None = None
        #: What else was found out to be the cause of a failure, where this copy does not hold all
        #: jobs: (when, joint, cause).
        self.found_elsewhere: tuple[tuple[str, str, str], ...] = ()
        try:
            with self._connection() as conn:
                if path is not None and wal and (steps := schema.pending(conn)):
                    self.copied_first = schema.keep_copy(conn, path, steps[0].replace("_", "-"))
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
                doubted = [one.entry for one in said if one.mark == marks.NOT_REPRODUCED]
                crew.look_at_doubts(conn, doubted)

    def unmark(self, mark: str, entries: Sequence[str]) -> None:
        """Say no more of entries what was said under a mark."""
        if entries:
            with self.writing() as conn:
                conn.executemany(
                    "DELETE FROM marks WHERE entry = ? AND mark = ?",
                    ((entry, mark) for entry in entries),
                )
                crew.look_at_doubts(conn, entries)

    def rebuild(self) -> int:
        """Make every read model again from the entries; returns how many there are."""
        with self.writing() as conn:
            return fold.rebuild(conn)

    # ── Reading ─────────────────────────────────────────────────────────────────────────────

    jobs, job = _asked(read.jobs), _asked(read.job)
    joints, joint = _asked(read.joints), _asked(read.joint)
    joint_names = _asked(read.joint_names)
    joints_knowing, curing = _asked(read.joints_knowing), _asked(read.curing)
    facts_found_last = _asked(read.facts_found_last)
    history, since = _asked(read.history), _asked(read.since)
    entry, entries = _asked(read.entry), _asked(read.entries)
    texts_since = _asked(read.texts_since)
    run, taught = _asked(read.run), _asked(read.taught)
    photos, photo_named = _asked(read.photos), _asked(read.photo_named)
    prices, price_history = _asked(read.prices), _asked(read.price_history)
    marks_on, marks_of = _asked(marks.of_entry), _asked(marks.of_entries)
    marked = _asked(marks.among)
    marks = _asked(marks.found)
    head, count = _asked(arrival.head), _asked(read.count)
    job_count = _asked(read.job_count)
    counted = _asked(crew.counted)

    def doubted_of(self, jobs: Iterable[str]) -> frozenset[str]:
        """Those of some jobs that rest on a result which was not reproduced."""
        with self.reading() as conn:
            return frozenset(one for one in jobs if read.is_doubted(conn, one))

    def in_turn(self, job_id: str, at: str) -> str:
        """The time of an entry that is made now: ``at``, but after all that is here of its job.

        A hybrid logical clock, kept in the time itself: whoever corrects something has seen it, so
        the correction counts as later, whosever clock is wrong.

        Source
        ------
        Kulkarni et al., "Logical physical clocks", 2014 (from memory).
        """
        with self.reading() as conn:
            last = read.last_at(conn, job_id)
        return at if at > last else just_after(last)

    def search(
        self,
        text: str,
        limit: int = 20,
        before_seq: int | None = None,
        also: tuple[str, ...] = (),
    ) -> tuple[Hit, ...]:
        """Entries that hold all the words, each taken as a beginning; last arrived first.

        Go on below the ``seq`` of the last one seen. ``also`` says the same in other words.
        """
        self._catch_up_search()
        with self.reading() as conn:
            return read.search(conn, text, limit, before_seq, also)

    def _catch_up_search(self) -> None:
        with self.reading() as conn:
            behind = conn.execute(
                "SELECT (SELECT coalesce(max(seq), 0) FROM entries) > seq FROM searched"
            ).fetchone()[0]
        if behind:
            with self.writing() as conn:
                fold.catch_up_search(conn)

    @cached_property
    def company(self) -> str:
        """Whose log this is: an id that every copy of it carries along."""
        with self.reading() as conn:
            return str(conn.execute("SELECT id FROM company").fetchone()[0])

    def crew(self) -> tuple[list[CrewJoint], list[Waiver]]:
        """Every joint as a lead looks at it, and what was signed without."""
        with self.reading() as conn:
            return crew.all_joints(conn), crew.waivers(conn)

    def grown_since(self, size: int) -> tuple[Head, list[str]]:
        """The head of now, and what leads there from the head of ``size`` entries."""
        with self.reading() as conn:
            now = arrival.head(conn)
            assert now is not None  # noqa: S101  -- there is always one of now
            return now, arrival.proof(conn, size, now.size)

    # ── Connections ─────────────────────────────────────────────────────────────────────────

    def reading(self) -> AbstractContextManager[sqlite3.Connection]:
        """A connection to read with."""
        # In memory one connection holds the whole database: take turns.
        return self._connection() if self.path is not None else self._in_turn()

    @contextmanager
    def _in_turn(self) -> Iterator[sqlite3.Connection]:
        with self._turn, self._connection() as conn:
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
