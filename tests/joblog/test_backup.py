"""A copy made while others write is whole, and no copy is ever written over."""

from __future__ import annotations

import sqlite3
import threading
from contextlib import closing

import pytest
from support.entries import NOW, a_job, entry, tables_of

from fieldkit.engine.problems import Problem
from fieldkit.joblog import JobLog
from fieldkit.joblog.backup import backup


def test_a_copy_made_while_others_write_is_whole(log, tmp_path):
    log.append([entry(0, note="x" * 2000) for _ in range(300)], NOW)
    stop = threading.Event()
    written = []

    def write():
        n = 0
        while not stop.is_set():
            pair = [entry(n, joint="k"), entry(n, joint="k", facts={"pipe.od_in": n})]
            written.extend(log.append(pair, NOW).stored)
            n += 1

    writer = threading.Thread(target=write)
    writer.start()
    try:
        counts = [backup(log, tmp_path / f"copy-{n}.db") for n in range(5)]
    finally:
        stop.set()
        writer.join()
    assert counts == sorted(counts)
    assert len(written) > 0
    for n, count in enumerate(counts):
        with JobLog.open(tmp_path / f"copy-{n}.db") as copy:
            assert copy.count() == count
            assert count % 2 == 0, "half of a save was copied"
            before = tables_of(copy)
            copy.rebuild()
            assert tables_of(copy) == before
    assert not list(tmp_path.glob("*.part"))


def test_a_copy_is_one_plain_file_that_takes_new_entries(log, tmp_path):
    log.append(a_job(), NOW)
    backup(log, tmp_path / "copy.db")
    assert [path.name for path in tmp_path.glob("copy*")] == ["copy.db"]
    with closing(sqlite3.connect(tmp_path / "copy.db")) as conn:
        assert conn.execute("PRAGMA journal_mode").fetchone() == ("delete",)
        assert conn.execute("SELECT count(*) FROM entries").fetchone() == (len(a_job()),)
    with JobLog.open(tmp_path / "copy.db") as copy:
        assert tables_of(copy) == tables_of(log)
        assert copy.append([entry(99)], NOW).stored


def test_a_copy_is_never_written_over(log, tmp_path):
    (tmp_path / "copy.db").write_text("the only copy of last year")
    with pytest.raises(Problem, match="already"):
        backup(log, tmp_path / "copy.db")
    assert (tmp_path / "copy.db").read_text() == "the only copy of last year"


def test_a_folder_that_is_not_there_is_said(log, tmp_path):
    with pytest.raises(Problem, match="could not be made"):
        backup(log, tmp_path / "nowhere" / "copy.db")
