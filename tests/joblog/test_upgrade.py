"""A new version over an older one's files: a copy first, then nothing is lost.

The logs were made by those older versions themselves and written down as SQL.
"""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from click.testing import CliRunner
from support.entries import NOW, entry, tables_of

from fieldkit.app import make_app
from fieldkit.cli.main import main
from fieldkit.engine.problems import Problem
from fieldkit.joblog import JobLog
from fieldkit.joblog.people import People, Person
from fieldkit.joblog.signing import all_entries, check

HERE = Path(__file__).parent
#: Each, and the first change to its form that it has not had.
OLDER = {
    "log_without_arrivals.sql": "make-marks",
    "log_without_crew.sql": "look-at-all-joints",
}


def told(path: Path) -> list[tuple[object, ...]]:
    """The entries of a file, byte for byte, with another program's eyes."""
    with closing(sqlite3.connect(path)) as conn:
        return conn.execute("SELECT * FROM entries ORDER BY seq").fetchall()


@pytest.fixture(params=OLDER)
def older(request, tmp_path):
    """An older version's log, and what it held."""
    path = tmp_path / "log.db"
    with closing(sqlite3.connect(path)) as conn:
        conn.executescript((HERE / request.param).read_text(encoding="utf-8"))
    return path, told(path), OLDER[request.param]


def test_an_older_log_is_copied_and_then_goes_on(older):
    path, held, step = older
    with JobLog.open(path) as log:
        kept = log.copied_first
        assert kept == path.with_name(f"log-before-{step}.db")
        assert all(one.whole for one in check(all_entries(log, "job-1")))
        before = tables_of(log)
        log.rebuild()
        assert tables_of(log) == before
        assert log.search("valve box")
        assert log.append([entry(99, note="On the new version")], NOW).stored
    assert told(path)[:-1] == held
    assert told(kept) == held
    assert kept.stat().st_mode & 0o077 == 0
    with JobLog.open(path) as log:  # once, and never again
        assert log.copied_first is None
    done = CliRunner().invoke(main, ["verify", "--db", str(path)], catch_exceptions=False)
    assert done.exit_code == 0, done.output
    # The copy is a log like any other, should one have to go back.
    with JobLog.open(kept) as log:
        assert log.count() == len(held)


def test_its_pages_open_on_the_new_version(older):
    path, _, _ = older
    app = make_app(path, testing=True)
    client = app.test_client()
    for page in (
        "/jobs",
        "/job/job-1",
        "/job/job-1/record",
        "/joint/joint-1",
        "/joint/joint-1/photos",
    ):
        assert client.get(page).status_code == 200, page
    app.extensions["joblog"].close()


def test_without_room_for_the_copy_nothing_is_changed(older, monkeypatch):
    path, held, _ = older

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("fieldkit.joblog.schema._keep_private", full)
    with pytest.raises(Problem, match="No space"):
        JobLog.open(path)
    monkeypatch.undo()
    with closing(sqlite3.connect(path)) as conn:
        had = {row[0] for row in conn.execute("SELECT name FROM migrations")}
    assert "look_at_all_joints" not in had
    assert told(path) == held
    assert [one.name for one in path.parent.iterdir() if "before" in one.name] == []


def test_a_file_of_people_is_copied_too(tmp_path):
    path = tmp_path / "log.people"
    with closing(People(path)) as store:
        store.add(Person("id-1", "Ann", "lead"), "the-hash")
    with closing(sqlite3.connect(path)) as conn:  # as version 0 had it
        conn.executescript(
            "DROP TABLE doings; ALTER TABLE invites DROP COLUMN person;"
            "ALTER TABLE invites DROP COLUMN maker; PRAGMA user_version = 0"
        )
    with closing(People(path)) as store:
        assert store.named("ann")[1] == "the-hash"
    (kept,) = tmp_path.glob("log-before-version-1.people")
    with closing(sqlite3.connect(kept)) as conn:
        assert conn.execute("SELECT name FROM people").fetchall() == [("Ann",)]
        assert conn.execute("PRAGMA user_version").fetchone() == (0,)
