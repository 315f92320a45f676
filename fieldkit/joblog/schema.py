"""The file: how every connection is opened, and the tables, made by named migrations."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable
from contextlib import closing, suppress
from pathlib import Path

from sqlite_utils import Database

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import Text, say
from fieldkit.joblog import arrival, crew
from fieldkit.joblog.marks import NOT_REPRODUCED

#: How long one writer waits for the others before it gives up. [s]
BUSY_SECONDS = 60.0

Migration = Callable[[sqlite3.Connection], None]
MIGRATIONS: list[Migration] = []


#: index → (what goes before, the fact that joints are found by).
FOUND_BY_FACT = {
    "joints_that_cure": ("job", "weld.ready_at"),
    "joints_found_out": ("opened_at", "leak.really"),
}


def fact_value(fact: str) -> str:
    """A joint's fact in SQL, in the very words that its index has."""
    return f"""json_extract(facts, '$."{fact}".value')"""


def migration(step: Migration) -> Migration:
    """Add a migration; its function's name is what the file remembers."""
    MIGRATIONS.append(step)
    return step


def connect(path: Path | None, *, wal: bool = True) -> Database:
    """Open the file (or a database in memory): the only place where a connection is made.

    A commit is on the disk when it returns (``synchronous=FULL``). ``wal`` is for machines with
    several programs; a browser, which keeps one file and has one program, does without.
    """
    if path is not None and wal:
        _keep_private(path)
    conn = sqlite3.connect(
        ":memory:" if path is None else path,
        timeout=BUSY_SECONDS,
        isolation_level=None,  # transactions are begun by hand, and at once for writing
        check_same_thread=False,  # the pool lends a connection to one thread at a time
    )
    conn.row_factory = sqlite3.Row
    try:
        # A save changes a little on each of eight pages, and writes each of them whole.
        conn.execute("PRAGMA page_size=2048")
        if path is not None and wal:
            _use_wal(conn)
        else:  # what keeps such a copy knows one that was cut off, and makes it anew
            conn.execute("PRAGMA journal_mode=MEMORY")
        conn.execute("PRAGMA wal_autocheckpoint=2000")  # as many bytes as usual
        conn.execute("PRAGMA synchronous=FULL")
        conn.execute("PRAGMA foreign_keys=ON")
        return Database(conn, recursive_triggers=True)
    except sqlite3.Error:
        conn.close()
        raise


def with_journals(path: Path) -> tuple[Path, Path, Path]:
    """A database's file, and those that SQLite keeps beside it."""
    return path, path.with_name(f"{path.name}-wal"), path.with_name(f"{path.name}-shm")


def _keep_private(path: Path) -> None:
    """Make the file where only its owner can read it, and take it back from others.

    SQLite gives the journals beside it the same rights.
    """
    with suppress(FileExistsError):
        os.close(os.open(path, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o600))
    for one in with_journals(path):
        with suppress(OSError):  # it is not there, or not ours to say
            if one.stat().st_mode & 0o077:
                one.chmod(0o600)


def _use_wal(conn: sqlite3.Connection) -> None:
    """Switch to the write-ahead log; another program may be doing so at the same time."""
    for _ in range(100):
        try:
            conn.execute("PRAGMA journal_mode=WAL")
        except sqlite3.OperationalError as error:
            if "locked" not in str(error):
                raise
            # The switch itself does not wait for a lock; beginning a transaction does.
            conn.execute("BEGIN IMMEDIATE")
            conn.execute("COMMIT")
        else:
            return
    raise sqlite3.OperationalError("another program keeps the database locked")


def migrate(conn: sqlite3.Connection) -> tuple[str, ...]:
    """Run the migrations that the file has not had, each in its own transaction.

    Returns
    -------
    tuple of str
        Names of those that were run.

    Raises
    ------
    Problem
        The file has had one that this version does not know; nothing was changed.
    """
    file = conn.execute("PRAGMA database_list").fetchone()["file"]
    if not require_known(conn, Path(file)):
        conn.execute("CREATE TABLE IF NOT EXISTS migrations (name TEXT PRIMARY KEY) WITHOUT ROWID")
    done = []
    for step in MIGRATIONS:
        name = step.__name__
        conn.execute("BEGIN IMMEDIATE")
        try:
            if conn.execute("SELECT 1 FROM migrations WHERE name = ?", [name]).fetchone() is None:
                step(conn)
                conn.execute("INSERT INTO migrations (name) VALUES (?)", [name])
                done.append(name)
        except BaseException:
            conn.execute("ROLLBACK")
            raise
        conn.execute("COMMIT")
    return tuple(done)


def pending(conn: sqlite3.Connection) -> tuple[str, ...]:
    """The migrations that a file with entries has not had; none where it has had unknown ones."""
    tables = {row[0] for row in conn.execute("SELECT name FROM sqlite_master")}
    if not {"migrations", "entries"} <= tables:
        return ()
    if conn.execute("SELECT 1 FROM entries LIMIT 1").fetchone() is None:
        return ()
    had = {row[0] for row in conn.execute("SELECT name FROM migrations")}
    known = [step.__name__ for step in MIGRATIONS]
    return tuple(name for name in known if name not in had) if had <= set(known) else ()


def keep_copy(conn: sqlite3.Connection, path: Path, before: str) -> Path:
    """A copy of a file as it is, beside it and named by what comes next; says where it is.

    It is whole when it has its name, and the file's owner's alone. Nothing is written over.
    """
    names = (f"{path.stem}-before-{before}{n}{path.suffix}" for n in ("", *range(2, 1000)))
    target = next(one for name in names if not (one := path.with_name(name)).exists())
    part = target.with_name(f"{target.name}.{os.getpid()}")
    try:
        _keep_private(part)
        with closing(sqlite3.connect(part)) as copy:
            conn.backup(copy)
            copy.execute("PRAGMA journal_mode=DELETE")
        part.rename(target)
    except BaseException:
        part.unlink(missing_ok=True)
        raise
    return target


def require_known(conn: sqlite3.Connection, path: Path) -> bool:
    """Whether the file says which migrations it has had.

    Raises
    ------
    Problem
        It has had one that this version does not know.
    """
    if conn.execute("SELECT 1 FROM sqlite_master WHERE name = 'migrations'").fetchone() is None:
        return False
    had = {row[0] for row in conn.execute("SELECT name FROM migrations")}
    if had - {step.__name__ for step in MIGRATIONS}:
        raise too_new(path)
    return True


def what_helps(error: Exception) -> Text:
    """What to do where a file could not be used, by SQLite's own name for what was wrong."""
    code = getattr(error, "sqlite_errorname", "")
    if code.startswith(("SQLITE_CORRUPT", "SQLITE_NOTADB")):
        return say(
            "If it is a log, put a backup back with {restore}, or take out what can still be read"
            " with {repair}.",
            restore="fieldkit restore",
            repair="fieldkit repair",
        )
    if code.startswith(("SQLITE_FULL", "SQLITE_IOERR")):
        return say("Make room on its disk, then try again.")
    if code.startswith(("SQLITE_BUSY", "SQLITE_LOCKED")):
        return say("Another program keeps it to itself. Try again when that is done.")
    return say("Name a log's file, in a folder that can be written to.")


def too_new(path: Path | None) -> Problem:
    """What is said of a file that a newer version wrote."""
    return Problem(
        "db",
        str(path),
        say("{path} was written by a newer fieldkit. It was left as it is.", path=str(path)),
        say("Install that version or a later one, and open it with that."),
    )


@migration
def make_entries(conn: sqlite3.Connection) -> None:
    """The truth: entries, which nothing may change or remove.

    As no row is ever removed, ``seq`` never comes up twice, and needs no AUTOINCREMENT (whose
    counter would be one more page to write with every save).
    """
    conn.execute(
        """
        CREATE TABLE entries (
            seq INTEGER PRIMARY KEY,
            id TEXT NOT NULL UNIQUE,
            at TEXT NOT NULL,
            job TEXT NOT NULL,
            joint TEXT NOT NULL,
            kind TEXT NOT NULL,
            flow TEXT NOT NULL,
            run TEXT NOT NULL,
            step TEXT NOT NULL,
            typed TEXT NOT NULL,
            understood TEXT NOT NULL,
            result TEXT,
            facts TEXT NOT NULL,
            who TEXT NOT NULL,
            device TEXT NOT NULL,
            replaces TEXT NOT NULL,
            note TEXT NOT NULL,
            received TEXT NOT NULL
        )
        """
    )
    # An index ends with the row's seq, so each of these is in order of arrival too.
    conn.execute("CREATE INDEX entries_by_job ON entries (job)")
    conn.execute("CREATE INDEX entries_by_joint ON entries (joint) WHERE joint <> ''")
    conn.execute("CREATE INDEX entries_by_run ON entries (run) WHERE run <> ''")
    conn.execute("CREATE INDEX entries_of_prices ON entries (at, id) WHERE kind = 'prices'")
    # REPLACE removes a row without a delete trigger unless the connection asks for recursive
    # triggers. A plain connection does not, so the insert itself is refused.
    conn.execute(
        """
        CREATE TRIGGER entries_are_not_replaced BEFORE INSERT ON entries
        WHEN EXISTS (SELECT 1 FROM entries WHERE id = NEW.id OR seq = NEW.seq)
        BEGIN SELECT RAISE(ABORT, 'an entry is never replaced'); END
        """
    )
    conn.execute(
        """
        CREATE TRIGGER entries_are_not_changed BEFORE UPDATE ON entries
        BEGIN SELECT RAISE(ABORT, 'an entry is never changed'); END
        """
    )
    conn.execute(
        """
        CREATE TRIGGER entries_are_not_removed BEFORE DELETE ON entries
        BEGIN SELECT RAISE(ABORT, 'an entry is never removed'); END
        """
    )


@migration
def make_read_models(conn: sqlite3.Connection) -> None:
    """What jobs and joints are now. ``fold.rebuild`` can make all of it again from entries.

    ``about``, ``facts`` and ``states`` are JSON: name → {value, at, entry}.
    """
    conn.execute(
        """
        CREATE TABLE jobs (
            id TEXT PRIMARY KEY,
            name TEXT NOT NULL DEFAULT '',
            place TEXT NOT NULL DEFAULT '',
            demo INTEGER NOT NULL DEFAULT 0,
            closed INTEGER NOT NULL DEFAULT 0,
            opened_at TEXT NOT NULL,
            last_at TEXT NOT NULL,
            last_day TEXT NOT NULL,
            joints INTEGER NOT NULL,
            entries INTEGER NOT NULL,
            about TEXT NOT NULL DEFAULT '{}'
        ) WITHOUT ROWID
        """
    )
    # By day, not by moment, so that a save mostly leaves this index as it is.
    conn.execute("CREATE INDEX jobs_by_last ON jobs (last_day)")
    conn.execute(
        """
        CREATE TABLE joints (
            job TEXT NOT NULL,
            id TEXT NOT NULL,
            name TEXT NOT NULL,
            opened_at TEXT NOT NULL,
            last_at TEXT NOT NULL,
            entries INTEGER NOT NULL,
            about TEXT NOT NULL,
            facts TEXT NOT NULL,
            states TEXT NOT NULL,
            PRIMARY KEY (job, id)
        )
        """
    )
    conn.execute("CREATE INDEX joints_by_id ON joints (id)")


@migration
def make_search(conn: sqlite3.Connection) -> None:
    """The words of each entry, by its seq; ``searched`` says how far the index has come."""
    conn.execute(
        """
        CREATE VIRTUAL TABLE search USING fts5
        (words, content='', columnsize=0, tokenize='unicode61 remove_diacritics 2')
        """
    )
    conn.execute("CREATE TABLE searched (seq INTEGER NOT NULL)")
    conn.execute("INSERT INTO searched (seq) VALUES (0)")


@migration
def make_refused(conn: sqlite3.Connection) -> None:
    """What other devices sent and was not taken in, once each, for a person to see."""
    conn.execute(
        """
        CREATE TABLE refused (
            name TEXT NOT NULL,
            body TEXT NOT NULL,
            reason TEXT NOT NULL,
            who TEXT NOT NULL,
            received TEXT NOT NULL,
            PRIMARY KEY (name, body)
        ) WITHOUT ROWID
        """
    )


@migration
def make_company(conn: sqlite3.Connection) -> None:
    """Whose log this is: a company's name by chance, which every copy of its log carries along.

    So phones and files of two companies are told apart, and a restored log is still the same one.
    """
    conn.execute("CREATE TABLE company (id TEXT NOT NULL)")
    conn.execute("INSERT INTO company (id) VALUES (lower(hex(randomblob(16))))")


@migration
def make_marks(conn: sqlite3.Connection) -> None:
    """What this copy has to say of an entry that stands in no entry: see ``marks.py``."""
    conn.execute(
        """
        CREATE TABLE marks (
            entry TEXT NOT NULL,
            job TEXT NOT NULL,
            mark TEXT NOT NULL,
            said TEXT NOT NULL,
            PRIMARY KEY (entry, mark)
        ) WITHOUT ROWID
        """
    )
    conn.execute("CREATE INDEX marks_by_job ON marks (job, mark)")
    # By which shapes the entries were looked through.
    conn.execute("CREATE TABLE looked_through (form TEXT NOT NULL)")
    conn.execute("INSERT INTO looked_through VALUES ('')")


@migration
def find_photos(conn: sqlite3.Connection) -> None:
    """A photo comes after its entry and is looked up by the digest that the entry names."""
    conn.execute(
        "CREATE INDEX entries_of_photos ON entries (json_extract(understood, '$.digest'))"
        " WHERE kind = 'photo'"
    )


@migration
def keep_arrivals(conn: sqlite3.Connection) -> None:
    """The order in which entries arrived, as the leaves and larger branches of a hash tree.

    What arrived before this was kept is taken as it stands now.
    """
    conn.execute("CREATE TABLE leaves (n INTEGER PRIMARY KEY, hash BLOB NOT NULL)")
    conn.execute(
        """
        CREATE TABLE branches (
            level INTEGER NOT NULL, n INTEGER NOT NULL, hash BLOB NOT NULL, PRIMARY KEY (level, n)
        ) WITHOUT ROWID
        """
    )
    for _, hashed in arrival.leaves_of_entries(conn):
        arrival.add(conn, hashed)


@migration
def find_what_cures_and_what_was_found_out(conn: sqlite3.Connection) -> None:
    """The lists of jobs and of diagnoses look for joints by one fact, never through all joints."""
    for name, (column, fact) in FOUND_BY_FACT.items():
        value = fact_value(fact)
        conn.execute(f"CREATE INDEX {name} ON joints ({column}, {value}) WHERE {value} IS NOT NULL")


@migration
def list_jobs_by_state(conn: sqlite3.Connection) -> None:
    """Open jobs and finished ones are two lists. By day, as ``jobs_by_last`` is."""
    conn.execute("CREATE INDEX jobs_by_state ON jobs (closed, last_day)")


@migration
def find_short_beginnings(conn: sqlite3.Connection) -> None:
    """A word that is still being typed is looked up by its first letters, not term by term.

    The log fills the index again when all migrations are through.
    """
    conn.execute("DROP TABLE search")
    conn.execute(
        """
        CREATE VIRTUAL TABLE search USING fts5
        (words, content='', columnsize=0, prefix='1 2 3 4',
         tokenize='unicode61 remove_diacritics 2')
        """
    )
    conn.execute("UPDATE searched SET seq = 0")


@migration
def look_at_all_joints(conn: sqlite3.Connection) -> None:
    """What a lead asks of all joints at once: see ``crew.py``. The log fills them as it opens."""
    conn.execute(
        """
        CREATE TABLE crew (
            job TEXT NOT NULL,
            joint TEXT NOT NULL,
            opened TEXT NOT NULL,
            day TEXT NOT NULL,
            state TEXT NOT NULL,
            ready_at TEXT NOT NULL,
            kinds TEXT NOT NULL,
            parts TEXT NOT NULL,
            people TEXT NOT NULL,
            to_buy INTEGER NOT NULL,
            made INTEGER NOT NULL,
            failed INTEGER NOT NULL,
            failed_kind TEXT NOT NULL,
            cause TEXT NOT NULL,
            seen INTEGER NOT NULL,
            heat_f REAL,
            made_by TEXT NOT NULL,
            really TEXT NOT NULL,
            PRIMARY KEY (job, joint)
        ) WITHOUT ROWID
        """
    )
    conn.execute(
        """
        CREATE TABLE taught (
            job TEXT NOT NULL,
            joint TEXT NOT NULL,
            at TEXT NOT NULL,
            entry TEXT NOT NULL,
            who TEXT NOT NULL,
            facts TEXT NOT NULL,
            PRIMARY KEY (job, joint, at, entry)
        ) WITHOUT ROWID
        """
    )
    conn.execute(
        """
        CREATE TABLE waivers (
            job TEXT NOT NULL,
            joint TEXT NOT NULL,
            point TEXT NOT NULL,
            entry TEXT NOT NULL,
            at TEXT NOT NULL,
            who TEXT NOT NULL,
            reason TEXT NOT NULL,
            PRIMARY KEY (job, joint, point, entry)
        ) WITHOUT ROWID
        """
    )
    conn.execute("UPDATE looked_through SET form = ''")


@migration
def find_marks(conn: sqlite3.Connection) -> None:
    """Those of one kind are looked for at each exchange, among as many as files brought in."""
    conn.execute("CREATE INDEX marks_by_mark ON marks (mark, entry)")


@migration
def keep_doubts(conn: sqlite3.Connection) -> None:
    """Whether a joint rests on a result that was not reproduced: it then counts as nothing made."""
    conn.execute("ALTER TABLE crew ADD COLUMN doubted INTEGER NOT NULL DEFAULT 0")
    rows = conn.execute("SELECT entry FROM marks WHERE mark = ?", [NOT_REPRODUCED])
    crew.look_at_doubts(conn, [row[0] for row in rows])
