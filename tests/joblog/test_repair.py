"""Torn logs: pages made unreadable, cut off, or still in the journal. SQLite reads them beside."""

from __future__ import annotations

import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing
from dataclasses import replace

import pytest
from support.entries import NOW, a_job, entry

from fieldkit.engine.problems import Problem
from fieldkit.joblog import JobLog
from fieldkit.joblog.backup import Place
from fieldkit.joblog.repair import repair

#: Texts of all sizes, so that rows lie whole in a page or go on over many.
SIZES = (0, 40, 400, 1_900, 2_100, 9_000, 60_000)


@pytest.fixture
def place(tmp_path):
    return Place(
        tmp_path / "log.db", tmp_path / "log.people", tmp_path / "photos", tmp_path / "log.secret"
    )


@pytest.fixture
def made(place):
    """A log of 206 entries in one plain file, and its entries."""
    entries = [*a_job()[:6]]
    entries += [entry(10 + n, note="é" * (SIZES[n % 7] // 2), joint="joint-1") for n in range(200)]
    with JobLog.open(place.log) as log:
        for n in range(0, 206, 20):
            log.append(entries[n : n + 20], NOW)
        company = log.company
    with closing(sqlite3.connect(place.log)) as conn:
        conn.execute("PRAGMA journal_mode=DELETE")
    place.secret.write_text("secret")
    return entries, company


def kept(place):
    """The entries of the repaired log, in their order."""
    with JobLog.open(place.log) as log:
        log.rebuild()
        return [one.entry for one in log.since(0, 1_000)], log.company


def leaves(path):
    """The pages that hold entries, as SQLite's own table of pages says."""
    with closing(sqlite3.connect(path)) as conn:
        try:
            found = conn.execute(
                "SELECT pageno FROM dbstat WHERE name = 'entries' AND pagetype = 'leaf'"
            ).fetchall()
        except sqlite3.OperationalError:
            pytest.skip("this SQLite has no dbstat")
        return [row[0] for row in found]


def tear(path, page, size=2048):
    """Overwrite a page with nonsense."""
    with path.open("rb+") as file:
        file.seek((page - 1) * size)
        file.write(b"\xa5" * size)


def test_a_whole_log_is_left_as_it_is(place, made):
    before = place.log.read_bytes()
    with pytest.raises(Problem, match="is whole"):
        repair(place, "torn")
    assert place.log.read_bytes() == before
    assert place.secret.exists()


def test_without_its_first_page_nothing_is_gone(place, made):
    entries, company = made
    tear(place.log, 1)
    with pytest.raises(Problem):
        JobLog.open(place.log)
    done = repair(place, "torn")
    assert kept(place) == (entries, company)
    assert done.gone == ()
    assert (done.aside / "log.db").exists()
    assert (done.aside / "log.secret").exists()
    assert not place.secret.exists()
    assert place.log.stat().st_mode & 0o077 == 0


def test_what_is_gone_is_said_and_nothing_else_is(place, made):
    entries, _ = made
    torn = leaves(place.log)[3:5]
    for page in torn:
        tear(place.log, page)
    done = repair(place, "torn")
    found, _ = kept(place)
    lost = [n for n, one in enumerate(entries, 1) if one not in found]
    named = [n for first, last, _, _ in done.gone for n in range(first, last + 1)]
    assert named == lost
    assert 0 < len(lost) < 60
    assert found == [one for one in entries if one in found]


def test_a_file_that_was_cut_off_gives_what_it_has(place, made):
    entries, _ = made
    whole = place.log.read_bytes()
    place.log.write_bytes(whole[: len(whole) // 2 + 77])
    done = repair(place, "torn")
    found, _ = kept(place)
    assert 50 < len(found) < 206
    assert done.entries == len(found)
    assert found == [one for one in entries if one in found]


def test_entries_that_stand_in_the_journal_alone_are_kept(place, made, tmp_path):
    entries, _ = made
    late = [replace(entry(400 + n), note="late") for n in range(5)]
    with JobLog.open(place.log) as log:
        log.append(late, NOW)
        for end in ("", "-wal"):
            shutil.copyfile(f"{place.log}{end}", tmp_path / f"copy.db{end}")
    other = replace(place, log=tmp_path / "copy.db")
    tear(other.log, 1)
    tear(other.log, leaves(place.log)[2])
    repair(other, "torn")
    found, _ = kept(other)
    assert found[-5:] == late
    assert found[:6] == entries[:6]


def test_what_is_no_log_gives_nothing_and_stays(place):
    place.log.write_bytes(b"\x0d\x00\x00\x00\x09" + bytes(range(256)) * 90)
    before = place.log.read_bytes()
    with pytest.raises(Problem, match="No entry can be read"):
        repair(place, "torn")
    assert place.log.read_bytes() == before


def test_a_log_that_is_in_use_is_left_alone(place, made):
    holder = subprocess.Popen(
        [sys.executable, "-c",
         "import sys; from fieldkit.joblog import JobLog\n"
         "log = JobLog.open(sys.argv[1]); print(log.count(), flush=True); input()",
         str(place.log)],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
    )  # fmt: skip
    assert holder.stdout.readline().strip() == "206"
    with pytest.raises(Problem, match="in use"):
        repair(place, "torn")
    holder.communicate("\n", timeout=20)


def test_a_log_of_a_newer_version_is_left_as_it_is(place, made):
    with closing(sqlite3.connect(place.log)) as conn:
        conn.execute("INSERT INTO migrations VALUES ('of_next_year')")
        conn.commit()
    with pytest.raises(Problem, match="newer fieldkit"):
        JobLog.open(place.log)
    with pytest.raises(Problem, match="newer fieldkit"):
        repair(place, "torn")
