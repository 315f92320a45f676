"""Adding entries: harmless to repeat, never overwritten, never changed or removed."""

from __future__ import annotations

import dataclasses
import sqlite3
from contextlib import closing

import pytest
from support.entries import NOW, a_job, entry, tables_of

from fieldkit.engine.problems import Problem
from fieldkit.joblog import JobLog
from fieldkit.joblog.schema import MIGRATIONS, migrate


def test_an_entry_comes_back_as_it_was_saved(log):
    for made in a_job():
        assert log.append([made], NOW).stored == (made.id,)
        assert log.entry(made.id).entry == made
        assert log.entry(made.id).received == NOW


def test_saving_again_changes_nothing(log):
    made = a_job()
    log.append(made, NOW)
    before = tables_of(log)
    again = log.append(made, "2026-05-02T00:00:00.000Z")
    assert again.already == tuple(one.id for one in made)
    assert (again.stored, again.refused) == ((), ())
    assert tables_of(log) == before
    assert log.count() == len(made)


def test_the_same_entry_twice_in_one_lot_is_kept_once(log):
    made = entry()
    done = log.append([made, made], NOW)
    assert (done.stored, done.already) == ((made.id,), (made.id,))
    assert log.count() == 1


def test_same_id_with_other_content_is_refused_and_the_first_stays(log):
    first = entry(note="first")
    log.append([first], NOW)
    other = dataclasses.replace(first, note="second")
    done = log.append([other, entry(1)], NOW)
    assert len(done.stored) == 1
    assert [(one, problem.field) for one, problem in done.refused] == [(first.id, "id")]
    assert "Nothing was overwritten" in done.refused[0][1].instead
    assert log.entry(first.id).entry == first


def test_a_failure_keeps_none_of_a_lot(log, monkeypatch):
    from fieldkit.joblog import fold

    made = a_job()
    kept = fold.apply

    def fail_at_last(conn, one):
        if one is made[-1]:
            raise sqlite3.OperationalError("disk I/O error")
        kept(conn, one)

    monkeypatch.setattr(fold, "apply", fail_at_last)
    with pytest.raises(sqlite3.OperationalError, match="disk I/O"):
        log.append(made, NOW)
    assert log.count() == 0
    assert log.jobs() == ()
    monkeypatch.undo()
    assert len(log.append(made, NOW).stored) == len(made)


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE entries SET note = 'x'",
        "UPDATE OR REPLACE entries SET id = 'x'",
        "DELETE FROM entries",
        "DELETE FROM entries WHERE seq = 1",
        "INSERT OR REPLACE INTO entries SELECT * FROM entries WHERE seq = 1",
        "REPLACE INTO entries SELECT * FROM entries",
        "INSERT OR REPLACE INTO entries (seq, {columns}) SELECT 1, {fresh} FROM entries",
        "INSERT OR REPLACE INTO entries (seq, {columns}) SELECT 99, {columns} FROM entries",
        "INSERT INTO entries SELECT * FROM entries WHERE true"
        " ON CONFLICT (id) DO UPDATE SET note = 'x'",
    ],
)
@pytest.mark.parametrize("recursive", ["on", "off"])
def test_a_plain_connection_can_change_nothing(log, statement, recursive):
    log.append([entry(note="as it was")], NOW)
    with closing(sqlite3.connect(log.path)) as conn:
        conn.execute(f"PRAGMA recursive_triggers={recursive}")
        columns = [row[1] for row in conn.execute("PRAGMA table_info(entries)")][1:]
        fresh = ["'another'" if name == "id" else name for name in columns]
        before = conn.execute("SELECT * FROM entries").fetchall()
        with pytest.raises(sqlite3.IntegrityError, match=r"never (changed|removed|replaced)"):
            conn.execute(statement.format(columns=", ".join(columns), fresh=", ".join(fresh)))
        conn.rollback()
        assert conn.execute("SELECT * FROM entries").fetchall() == before


def test_every_connection_is_durable_and_waits(log):
    with log.reading() as conn:
        asked = {
            name: conn.execute(f"PRAGMA {name}").fetchone()[0]
            for name in (
                "journal_mode",
                "synchronous",
                "foreign_keys",
                "recursive_triggers",
                "busy_timeout",
            )
        }
    # synchronous 2 is FULL: https://www.sqlite.org/pragma.html#pragma_synchronous
    assert asked == {
        "journal_mode": "wal",
        "synchronous": 2,
        "foreign_keys": 1,
        "recursive_triggers": 1,
        "busy_timeout": 60_000,
    }


def test_a_browser_keeps_one_file(tmp_path):
    with JobLog.open(tmp_path / "log.db", wal=False) as log:
        log.append(a_job(), NOW)
        assert log.search("north")
        assert [path.name for path in tmp_path.iterdir()] == ["log.db"]


def test_migrations_run_once_each_and_are_recorded(log):
    names = [step.__name__ for step in MIGRATIONS]
    with log.reading() as conn:
        assert migrate(conn) == ()
        kept = [row[0] for row in conn.execute("SELECT name FROM migrations")]
    assert sorted(kept) == sorted(names)


def test_a_migration_that_fails_leaves_no_trace(log, monkeypatch):
    def half_done(conn):
        conn.execute("CREATE TABLE half (a)")
        raise ValueError("stopped half way")

    monkeypatch.setattr("fieldkit.joblog.schema.MIGRATIONS", [*MIGRATIONS, half_done])
    with log.reading() as conn:
        with pytest.raises(ValueError, match="half way"):
            migrate(conn)
        assert conn.execute("SELECT 1 FROM sqlite_master WHERE name = 'half'").fetchone() is None
        assert conn.execute("SELECT 1 FROM migrations WHERE name = 'half_done'").fetchone() is None


def test_a_closed_log_says_so(tmp_path):
    log = JobLog.open(tmp_path / "log.db")
    log.close()
    with pytest.raises(sqlite3.ProgrammingError, match="closed"):
        log.count()


@pytest.mark.parametrize("path", ["text.db", "nowhere/log.db", "."])
def test_a_file_that_is_no_log_says_so(tmp_path, path):
    (tmp_path / "text.db").write_text("words, and more than a header's worth of them " * 50)
    with pytest.raises(Problem, match="could not be opened") as caught:
        JobLog.open(tmp_path / path)
    assert caught.value.field == "db"


def test_a_failed_open_leaves_no_connection_behind(tmp_path):
    (tmp_path / "text.db").write_text("words, and more than a header's worth of them " * 50)
    with pytest.raises(Problem, match="could not be opened"):
        JobLog.open(tmp_path / "text.db")
    (tmp_path / "text.db").unlink()
    with JobLog.open(tmp_path / "text.db") as log:
        assert log.count() == 0
