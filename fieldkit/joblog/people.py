"""Who may enter, kept in a file of its own beside the log: it is never exported or sent to phones.

Only digests of tokens are kept here, so a copy of this file opens no session. Time, chance and
password hashes are handed in.
"""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import Literal, get_args

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import say
from fieldkit.joblog import schema
from fieldkit.joblog.names import look_alike, read_name, same_name

Role = Literal["guest", "technician", "lead"]
#: From the least that may be done to the most.
ROLES: tuple[Role, ...] = get_args(Role)

#: A session ends so long after it was last used, and at the latest so long after it began. [ms]
IDLE_MS = 7 * 24 * 3600 * 1000
LONGEST_MS = 30 * 24 * 3600 * 1000

#: An invitation works for so long. [ms]
INVITE_MS = 3 * 24 * 3600 * 1000

#: So many wrong tries about one name cost nothing, and so many from one address, behind which a
#: whole crew may sit; then the wait doubles with each, up to the longest. [ms]
FREE_TRIES = 3
FREE_OF_ADDRESS = 12
FIRST_WAIT_MS = 2_000
LONGEST_WAIT_MS = 15 * 60 * 1000
#: Wrong tries are forgotten so long after the last one. [ms]
FORGET_MS = 24 * 3600 * 1000

#: How many lines are kept of what happened, and of those that strangers can cause.
KEPT_LINES, KEPT_REFUSALS = 20_000, 5_000

#: What happened: code → words.
DOINGS = {
    "entered": "entered",
    "wrong": "gave a wrong password",
    "waits": "had to wait after wrong passwords",
    "refused": "was refused",
    "invited": "invited",
    "revoked": "took back the invitation of",
    "joined": "joined as",
    "made lead": "was made a lead on the server",
    "reset": "made a reset link for",
    "returned": "came back with a new password",
    "password": "changed the password",
    "logged out": "logged out everywhere",
    "ended": "ended the access of",
    "brought in": "brought in",
}

#: Those that whoever knocks at the door can cause at will.
_BY_STRANGERS = ("wrong", "waits", "refused")

_TABLES = """
CREATE TABLE people (
    id TEXT PRIMARY KEY, name TEXT NOT NULL, login TEXT NOT NULL UNIQUE, role TEXT NOT NULL,
    job TEXT NOT NULL, password TEXT NOT NULL, ended INTEGER NOT NULL DEFAULT 0
);
CREATE TABLE sessions (
    token TEXT PRIMARY KEY, person TEXT NOT NULL REFERENCES people (id),
    device TEXT NOT NULL, began INTEGER NOT NULL, used INTEGER NOT NULL
);
CREATE INDEX sessions_by_person ON sessions (person);
CREATE TABLE invites (
    token TEXT PRIMARY KEY, name TEXT NOT NULL, role TEXT NOT NULL, job TEXT NOT NULL,
    until INTEGER NOT NULL
);
CREATE TABLE tries (
    about TEXT PRIMARY KEY, wrong INTEGER NOT NULL, last INTEGER NOT NULL
);
"""

#: Since version 1: who an invitation lets back in and who made it, and what happened.
_MORE = """
ALTER TABLE invites ADD COLUMN person TEXT NOT NULL DEFAULT '';
ALTER TABLE invites ADD COLUMN maker TEXT NOT NULL DEFAULT '';
CREATE TABLE doings (
    line INTEGER PRIMARY KEY, at INTEGER NOT NULL, who TEXT NOT NULL, what TEXT NOT NULL,
    about TEXT NOT NULL, whence TEXT NOT NULL
);
DELETE FROM tries;
"""

#: The form of the file, kept as SQLite's ``user_version``.
_VERSION = 1


@dataclass(frozen=True, slots=True)
class Person:
    """Someone who may enter. ``job`` is the only one that a guest sees."""

    id: str
    name: str
    role: Role
    job: str = ""


@dataclass(frozen=True, slots=True)
class Invite:
    """An invitation that was not used yet; ``person`` is who comes back by it.

    ``key`` names it to those who may revoke it, and opens nothing.
    """

    key: str
    name: str
    role: Role
    job: str
    until: int
    person: str = ""
    maker: str = ""


@dataclass(frozen=True, slots=True)
class Doing:
    """One line of what happened: when [ms], who, a code of ``DOINGS``, about whom, from where."""

    at: int
    who: str
    what: str
    about: str
    whence: str


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


def wait_ms(wrong: int, free: int = FREE_TRIES) -> int:
    """How long to wait after so many wrong tries, of which some are free. [ms]

    Examples
    --------
    >>> [wait_ms(n) for n in (2, 3, 4, 30)]
    [0, 2000, 4000, 900000]
    """
    over = wrong - free
    return 0 if over < 0 else min(FIRST_WAIT_MS << min(over, 20), LONGEST_WAIT_MS)


class People:
    """The file of those who may enter; ``None`` keeps it in memory."""

    def __init__(self, path: Path | None) -> None:
        self._conn: sqlite3.Connection = schema.connect(path).conn
        self._turn = threading.RLock()
        try:
            self._migrate(path)
        except BaseException:
            self._conn.close()
            raise

    def _migrate(self, path: Path | None) -> None:
        """Bring the file to this version's form.

        Raises
        ------
        Problem
            A newer fieldkit wrote it.
        """
        version = self._conn.execute("PRAGMA user_version").fetchone()[0]
        if version > _VERSION:
            raise schema.too_new(path)
        if version == _VERSION:
            return
        there = self._conn.execute("SELECT 1 FROM sqlite_master WHERE name = 'people'").fetchone()
        if there and path is not None:
            schema.keep_copy(self._conn, path, f"version-{_VERSION}")
        with self._writing() as conn:
            if conn.execute("PRAGMA user_version").fetchone()[0] == _VERSION:
                return  # another program was first
            there = conn.execute("SELECT 1 FROM sqlite_master WHERE name = 'people'").fetchone()
            for step in ("" if there else _TABLES, _MORE):
                for statement in step.split(";"):
                    conn.execute(statement)
            for row in conn.execute("SELECT id, name FROM people WHERE role <> 'guest'").fetchall():
                conn.execute(
                    "UPDATE OR IGNORE people SET login = ? WHERE id = ?",
                    (same_name(row["name"]), row["id"]),
                )
            conn.execute(f"PRAGMA user_version = {_VERSION}")

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

    def _all(self, statement: str, *values: object) -> list[sqlite3.Row]:
        with self._turn:
            return self._conn.execute(statement, values).fetchall()

    # ── People ──────────────────────────────────────────────────────────────────────────────

    def all(self) -> tuple[Person, ...]:
        """Everyone who may enter, by name."""
        return tuple(map(_person, self._all("SELECT * FROM people WHERE ended = 0 ORDER BY name")))

    def everyone(self) -> tuple[Person, ...]:
        """Also those whose access was ended, but no guests: whose names nobody else may write."""
        return tuple(one for one in (*self.all(), *self.ended()) if one.role != "guest")

    def ended(self) -> tuple[Person, ...]:
        """Those who had a password and whose access was ended, by name."""
        rows = self._all("SELECT * FROM people WHERE ended = 1 AND role <> 'guest' ORDER BY name")
        return tuple(map(_person, rows))

    def person(self, person_id: str, *, also_ended: bool = False) -> Person | None:
        """One person who may enter, or might once."""
        row = self._one(
            "SELECT * FROM people WHERE id = ? AND ended <= ?", person_id, int(also_ended)
        )
        return None if row is None else _person(row)

    def named(self, name: str) -> tuple[Person, str] | None:
        """The person of that name, who has a password, and its hash."""
        row = self._one(
            "SELECT * FROM people WHERE login = ? AND ended = 0 AND password <> ''", same_name(name)
        )
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
            conn.execute("DELETE FROM invites WHERE person = ?", (person_id,))

    # ── Invitations ─────────────────────────────────────────────────────────────────────────

    def invite(
        self,
        token: str,
        name: str,
        role: Role,
        now: int,
        job: str = "",
        *,
        person: str = "",
        maker: str = "",
    ) -> None:
        """Keep an invitation that works once, for a while; ``person`` comes back by it.

        Raises
        ------
        Problem
            The name cannot be anybody's here, or is another's.
        """
        with self._writing() as conn:
            if not person:
                _require_free(conn, Person("", name, role, job))
            conn.execute("DELETE FROM invites WHERE until < ?", (now,))
            # Of two links that let the same person back in, only the newer one works.
            conn.execute("DELETE FROM invites WHERE person <> '' AND person = ?", (person,))
            conn.execute(
                "INSERT INTO invites (token, name, role, job, until, person, maker)"
                " VALUES (?, ?, ?, ?, ?, ?, ?)",
                (digest(token), name, role, job, now + INVITE_MS, person, maker),
            )

    def invited(self, token: str, now: int) -> Invite | None:
        """What a token invites to, if it still works."""
        row = self._one("SELECT * FROM invites WHERE token = ? AND until >= ?", digest(token), now)
        return None if row is None else _invite(row)

    def invites(self, now: int) -> tuple[Invite, ...]:
        """The invitations that still work, the newest first."""
        rows = self._all("SELECT * FROM invites WHERE until >= ? ORDER BY until DESC, token", now)
        return tuple(map(_invite, rows))

    def revoke(self, key: str) -> Invite | None:
        """An invitation works no more; returns it, or None when it did not."""
        with self._writing() as conn:
            row = conn.execute("DELETE FROM invites WHERE token = ? RETURNING *", (key,)).fetchone()
            return None if row is None else _invite(row)

    def accept(self, token: str, person: Person, password: str, now: int) -> bool:
        """Use an invitation up and let the person enter, or neither.

        Who comes back is the person that the invitation names, whatever ``person`` says: with
        the same id and name, a new password, and no other session.

        Raises
        ------
        Problem
            The name is taken; the invitation still works.
        """
        with self._writing() as conn:
            used = conn.execute(
                "DELETE FROM invites WHERE token = ? AND until >= ? RETURNING person",
                (digest(token), now),
            ).fetchone()
            if used is None:
                return False
            if not used["person"]:
                _add(conn, person, password)
            elif password:
                conn.execute(
                    "UPDATE people SET password = ?, ended = 0 WHERE id = ?",
                    (password, used["person"]),
                )
                conn.execute("DELETE FROM sessions WHERE person = ?", (used["person"],))
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
        rows = self._all(
            "SELECT token, device, began, used FROM sessions WHERE person = ? ORDER BY used DESC",
            person_id,
        )
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

    def must_wait(self, abouts: Mapping[str, int], now: int) -> int:
        """How long until another try is taken; about what → how many wrong ones are free. [ms]"""
        longest = 0
        for about, free in abouts.items():
            row = self._one("SELECT wrong, last FROM tries WHERE about = ?", digest(about))
            if row is not None:
                longest = max(longest, row["last"] + wait_ms(row["wrong"], free) - now)
        return longest

    def wrong(self, abouts: Mapping[str, int], now: int) -> None:
        """A try about these was wrong."""
        with self._writing() as conn:
            conn.execute("DELETE FROM tries WHERE last < ?", (now - FORGET_MS,))
            for about in abouts:
                conn.execute(
                    "INSERT INTO tries VALUES (?, 1, ?) ON CONFLICT (about)"
                    " DO UPDATE SET wrong = wrong + 1, last = excluded.last",
                    (digest(about), now),
                )

    def right(self, about: str, address: str = "") -> None:
        """A try was right: what was wrong about it is forgotten.

        Of the wrong tries from its address, only this one is taken back: who has a password of
        their own must not get new guesses at another's with it.
        """
        with self._writing() as conn:
            conn.execute("DELETE FROM tries WHERE about = ?", (digest(about),))
            conn.execute("UPDATE tries SET wrong = wrong - 1 WHERE about = ?", (digest(address),))

    # ── What happened ───────────────────────────────────────────────────────────────────────

    def note(self, at: int, who: str, what: str, about: str = "", whence: str = "") -> None:
        """Write down what somebody did; the oldest lines go when there are too many.

        What strangers can cause at will has a limit of its own, so it drives nothing else out.
        """
        with self._writing() as conn:
            line = conn.execute(
                "INSERT INTO doings (at, who, what, about, whence) VALUES (?, ?, ?, ?, ?)",
                (at, who, what, about[:200], whence),
            ).lastrowid
            if (line or 0) % 256 == 0:
                places = ", ".join("?" * len(_BY_STRANGERS))
                for found, most in ((f"IN ({places})", KEPT_REFUSALS), ("<> ''", KEPT_LINES)):
                    values = _BY_STRANGERS if "?" in found else ()
                    conn.execute(
                        "DELETE FROM doings WHERE line IN (SELECT line FROM doings"  # noqa: S608
                        f" WHERE what {found} ORDER BY line DESC LIMIT -1 OFFSET ?)",
                        (*values, most),
                    )

    def doings(self, limit: int = 200) -> tuple[Doing, ...]:
        """What happened, the last first."""
        rows = self._all(
            "SELECT at, who, what, about, whence FROM doings ORDER BY line DESC LIMIT ?", limit
        )
        return tuple(Doing(*row) for row in rows)


def _invite(row: sqlite3.Row) -> Invite:
    return Invite(**{("key" if name == "token" else name): row[name] for name in row.keys()})  # noqa: SIM118


def _person(row: sqlite3.Row) -> Person:
    return Person(row["id"], row["name"], row["role"], row["job"])


def _require_free(conn: sqlite3.Connection, person: Person) -> None:
    """See that a name is one, and that nobody here has it or one that looks like it.

    Whose access was ended keeps the name, so that nobody else can write under it. Guests may be
    called alike, but not like somebody of the crew.
    """
    read_name(person.name)
    rows = conn.execute(
        "SELECT name FROM people WHERE CASE WHEN role = 'guest' THEN ended = 0 AND ? <> 'guest'"
        " ELSE 1 END",
        (person.role,),
    )
    if any(look_alike(person.name, row["name"]) for row in rows.fetchall()):
        raise Problem(
            "name",
            person.name,
            say("Someone here has this name already, or one that looks like it."),
            say("Add a letter or a second name. Who was here before can be let back in."),
        )


def _add(conn: sqlite3.Connection, person: Person, password: str) -> None:
    _require_free(conn, person)
    # A guest has no password, and a login that no name can be: the link alone let them in, once.
    login = same_name(person.name) if password else f" {person.id}"
    conn.execute(
        "INSERT INTO people (id, name, login, role, job, password) VALUES (?, ?, ?, ?, ?, ?)",
        (person.id, person.name, login, person.role, person.job, password),
    )
