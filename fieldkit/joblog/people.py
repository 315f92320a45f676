"""Who may enter, kept in a file of its own beside the log: it is never exported or sent to phones.

Only digests of tokens are kept here, so a copy of this file opens no session. Time, chance and
password hashes are handed in.
"""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import Literal, get_args

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import say
from fieldkit.joblog import schema

Role = Literal["guest", "technician", "lead"]
#: From the least that may be done to the most.
ROLES: tuple[Role, ...] = get_args(Role)

#: A session ends so long after it was last used, and at the latest so long after it began. [ms]
IDLE_MS = 7 * 24 * 3600 * 1000
LONGEST_MS = 30 * 24 * 3600 * 1000

#: An invitation works for so long. [ms]
INVITE_MS = 3 * 24 * 3600 * 1000

#: So many wrong tries cost nothing; then the wait doubles with each, up to the longest. [ms]
FREE_TRIES = 3
FIRST_WAIT_MS = 2_000
LONGEST_WAIT_MS = 15 * 60 * 1000
#: Wrong tries are forgotten so long after the last one. [ms]
FORGET_MS = 24 * 3600 * 1000

_TABLES = """
CREATE TABLE IF NOT EXISTS people (
    id TEXT PRIMARY KEY, name TEXT NOT NULL, login TEXT NOT NULL UNIQUE, role TEXT NOT NULL,
    job TEXT NOT NULL, password TEXT NOT NULL, ended INTEGER NOT NULL DEFAULT 0
);
CREATE TABLE IF NOT EXISTS sessions (
    token TEXT PRIMARY KEY, person TEXT NOT NULL REFERENCES people (id),
    device TEXT NOT NULL, began INTEGER NOT NULL, used INTEGER NOT NULL
);
CREATE INDEX IF NOT EXISTS sessions_by_person ON sessions (person);
CREATE TABLE IF NOT EXISTS invites (
    token TEXT PRIMARY KEY, name TEXT NOT NULL, role TEXT NOT NULL, job TEXT NOT NULL,
    until INTEGER NOT NULL
);
CREATE TABLE IF NOT EXISTS tries (
    about TEXT PRIMARY KEY, wrong INTEGER NOT NULL, last INTEGER NOT NULL
);
"""


@dataclass(frozen=True, slots=True)
class Person:
    """Someone who may enter. ``job`` is the only one that a guest sees."""

    id: str
    name: str
    role: Role
    job: str = ""


@dataclass(frozen=True, slots=True)
class Invite:
    """An invitation that was not used yet."""

    name: str
    role: Role
    job: str
    until: int


@dataclass(frozen=True, slots=True)
class Session:
    """One device on which a person is logged in; ``token`` is the digest of what it holds."""

    token: str
    device: str
    began: int
    used: int


def digest(token: str) -> str:
    """What is kept of a token: it cannot be turned back."""
    return sha256(token.encode("utf-8", "replace")).hexdigest()


def login_of(name: str) -> str:
    """A name as it is compared: capitals and spaces do not matter.

    Examples
    --------
    >>> login_of("  Ann  Lee ")
    'ann lee'
    """
    return " ".join(name.casefold().split())


def wait_ms(wrong: int) -> int:
    """How long to wait after so many wrong tries. [ms]

    Examples
    --------
    >>> [wait_ms(n) for n in (2, 3, 4, 30)]
    [0, 2000, 4000, 900000]
    """
    over = wrong - FREE_TRIES
    return 0 if over < 0 else min(FIRST_WAIT_MS << min(over, 20), LONGEST_WAIT_MS)


class People:
    """The file of those who may enter; ``None`` keeps it in memory."""

    def __init__(self, path: Path | None) -> None:
        if path is not None:
            path.touch(mode=0o600)
        self._conn: sqlite3.Connection = schema.connect(path).conn
        self._turn = threading.RLock()
        self._conn.executescript(_TABLES)

    def close(self) -> None:
        """Close the file."""
        self._conn.close()

    @contextmanager
    def _writing(self) -> Iterator[sqlite3.Connection]:
        with self._turn:
            self._conn.execute("BEGIN IMMEDIATE")
            try:
                yield self._conn
                self._conn.execute("COMMIT")
            except BaseException:
                self._conn.execute("ROLLBACK")
                raise

    def _one(self, statement: str, *values: object) -> sqlite3.Row | None:
        with self._turn:
            found: sqlite3.Row | None = self._conn.execute(statement, values).fetchone()
            return found

    # ── People ──────────────────────────────────────────────────────────────────────────────

    def all(self) -> tuple[Person, ...]:
        """Everyone who may enter, by name."""
        with self._turn:
            rows = self._conn.execute("SELECT * FROM people WHERE ended = 0 ORDER BY name")
            return tuple(map(_person, rows.fetchall()))

    def person(self, person_id: str) -> Person | None:
        """One person who may enter."""
        row = self._one("SELECT * FROM people WHERE id = ? AND ended = 0", person_id)
        return None if row is None else _person(row)

    def named(self, name: str) -> tuple[Person, str] | None:
        """The person of that name and the hash of their password."""
        row = self._one("SELECT * FROM people WHERE login = ? AND ended = 0", login_of(name))
        return None if row is None else (_person(row), str(row["password"]))

    def add(self, person: Person, password: str) -> None:
        """Let a person enter.

        Raises
        ------
        Problem
            The name is taken.
        """
        with self._writing() as conn:
            _add(conn, person, password)

    def set_password(self, person_id: str, password: str) -> None:
        """Keep a new hash of a person's password."""
        with self._writing() as conn:
            conn.execute("UPDATE people SET password = ? WHERE id = ?", (password, person_id))

    def end(self, person_id: str) -> None:
        """A person may enter no more, from this moment; the name stays taken."""
        with self._writing() as conn:
            conn.execute("UPDATE people SET ended = 1, password = '' WHERE id = ?", (person_id,))
            conn.execute("DELETE FROM sessions WHERE person = ?", (person_id,))

    # ── Invitations ─────────────────────────────────────────────────────────────────────────

    def invite(self, token: str, name: str, role: Role, now: int, job: str = "") -> None:
        """Keep an invitation that works once, for a while."""
        with self._writing() as conn:
            conn.execute("DELETE FROM invites WHERE until < ?", (now,))
            conn.execute(
                "INSERT INTO invites VALUES (?, ?, ?, ?, ?)",
                (digest(token), name, role, job, now + INVITE_MS),
            )

    def invited(self, token: str, now: int) -> Invite | None:
        """What a token invites to, if it still works."""
        row = self._one("SELECT * FROM invites WHERE token = ? AND until >= ?", digest(token), now)
        return None if row is None else Invite(row["name"], row["role"], row["job"], row["until"])

    def accept(self, token: str, person: Person, password: str, now: int) -> bool:
        """Use an invitation up and let the person enter, or neither.

        Raises
        ------
        Problem
            The name is taken; the invitation still works.
        """
        with self._writing() as conn:
            used = conn.execute(
                "DELETE FROM invites WHERE token = ? AND until >= ?", (digest(token), now)
            )
            if used.rowcount != 1:
                return False
            _add(conn, person, password)
            return True

    # ── Sessions ────────────────────────────────────────────────────────────────────────────

    def begin(self, token: str, person_id: str, device: str, now: int) -> None:
        """Begin a session."""
        with self._writing() as conn:
            conn.execute(
                "INSERT INTO sessions VALUES (?, ?, ?, ?, ?)",
                (digest(token), person_id, device[:200], now, now),
            )

    def seated(self, token: str, now: int) -> Person | None:
        """The person whose session this is, if it has not ended."""
        key = digest(token)
        row = self._one(
            "SELECT people.*, used FROM sessions JOIN people ON people.id = person"
            " WHERE token = ? AND ended = 0 AND used >= ? AND began >= ?",
            key,
            now - IDLE_MS,
            now - LONGEST_MS,
        )
        if row is None:
            return None
        if now - row["used"] > 60_000:  # once a minute is enough
            with self._writing() as conn:
                conn.execute("UPDATE sessions SET used = ? WHERE token = ?", (now, key))
        return _person(row)

    def sessions(self, person_id: str) -> tuple[Session, ...]:
        """Where a person is logged in, the last used first."""
        with self._turn:
            rows = self._conn.execute(
                "SELECT token, device, began, used FROM sessions WHERE person = ?"
                " ORDER BY used DESC",
                (person_id,),
            ).fetchall()
        return tuple(Session(*row) for row in rows)

    def leave(self, token: str) -> None:
        """End the session of this token."""
        with self._writing() as conn:
            conn.execute("DELETE FROM sessions WHERE token = ?", (digest(token),))

    def end_sessions(self, person_id: str, but: str = "") -> int:
        """End a person's sessions everywhere, but that of a token; says how many."""
        with self._writing() as conn:
            return conn.execute(
                "DELETE FROM sessions WHERE person = ? AND token <> ?",
                (person_id, digest(but) if but else ""),
            ).rowcount

    # ── Wrong tries ─────────────────────────────────────────────────────────────────────────

    def must_wait(self, abouts: tuple[str, ...], now: int) -> int:
        """How long until another try about any of these is taken. [ms]"""
        longest = 0
        for about in abouts:
            row = self._one("SELECT wrong, last FROM tries WHERE about = ?", digest(about))
            if row is not None:
                longest = max(longest, row["last"] + wait_ms(row["wrong"]) - now)
        return longest

    def wrong(self, abouts: tuple[str, ...], now: int) -> None:
        """A try about these was wrong."""
        with self._writing() as conn:
            conn.execute("DELETE FROM tries WHERE last < ?", (now - FORGET_MS,))
            for about in abouts:
                conn.execute(
                    "INSERT INTO tries VALUES (?, 1, ?) ON CONFLICT (about)"
                    " DO UPDATE SET wrong = wrong + 1, last = excluded.last",
                    (digest(about), now),
                )

    def right(self, about: str) -> None:
        """A try was right: what went before is forgotten."""
        with self._writing() as conn:
            conn.execute("DELETE FROM tries WHERE about = ?", (digest(about),))


def _person(row: sqlite3.Row) -> Person:
    return Person(row["id"], row["name"], row["role"], row["job"])


def _add(conn: sqlite3.Connection, person: Person, password: str) -> None:
    # A guest has no password and no login: the link alone let them in, once.
    login = login_of(person.name) if password else person.id
    try:
        conn.execute(
            "INSERT INTO people (id, name, login, role, job, password) VALUES (?, ?, ?, ?, ?, ?)",
            (person.id, person.name, login, person.role, person.job, password),
        )
    except sqlite3.IntegrityError:
        raise Problem(
            "name",
            person.name,
            say("Someone here has this name already."),
            say("Add a letter or a second name."),
        ) from None
