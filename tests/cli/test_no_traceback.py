"""Every command on a damaged, read-only, full or newer file: a sentence, never a traceback."""

from __future__ import annotations

import os
import re
import resource
import sqlite3
import tempfile
import tomllib
from contextlib import closing, contextmanager
from pathlib import Path

import pytest
from click.testing import CliRunner
from support.entries import NOW, a_job, entry

from fieldkit.cli.main import main
from fieldkit.joblog import JobLog
from fieldkit.joblog.people import People, Person

ROOT = Path(__file__).resolve().parents[2]

COMMANDS = [
    ["verify"],
    ["export", "--all"],
    ["export", "--all", "--csv"],
    ["export", "North bed"],
    ["import", "{file}"],
    ["backup", "{new}"],
    ["restore", "{file}"],
    ["people", "list"],
    ["people", "log"],
    ["people", "add-lead", "Cy", "--password", "violet gravel anchor teapot"],
    ["people", "invite", "Cy"],
    ["people", "reset", "Ann"],
    ["people", "end-sessions", "Ann"],
    ["demo", "wipe"],
    ["repair"],
    ["crew", "--all"],
    ["drill", "{file}"],
]


@pytest.fixture
def folder():
    """A folder that also somebody else may look into."""
    with tempfile.TemporaryDirectory() as name:
        Path(name).chmod(0o755)
        yield Path(name)


@pytest.fixture
def db(folder):
    path = folder / "kept" / "log.db"
    path.parent.mkdir()
    with JobLog.open(path) as log:
        log.append(a_job(), NOW)
        log.append([entry(50 + n, note="wet " * 300) for n in range(60)], NOW)
    people = People(path.with_suffix(".people"))
    people.add(Person("ann", "Ann", "lead"), "hash")
    people.close()
    with closing(sqlite3.connect(path)) as conn:
        conn.execute("PRAGMA journal_mode=DELETE")
    return path


def run(words, db, folder):
    """What a command says and how it ends; anything but an exit is a traceback."""
    file = folder / "brought.json"
    if not file.exists():
        file.write_text('{"format": "fieldkit entries 1", "entries": []}')
    filled = [word.format(file=file, new=folder / "new.zip") for word in words]
    done = CliRunner().invoke(main, [*filled, "--db", str(db)])
    assert done.exception is None or isinstance(done.exception, SystemExit), (
        words,
        repr(done.exception),
    )
    assert "Traceback" not in done.output
    return done


@pytest.mark.parametrize("words", [*COMMANDS, ["serve"]], ids=" ".join)
def test_a_file_that_is_no_database(words, db, folder):
    db.write_bytes(b"this was a log once " * 500)
    assert run(words, db, folder).exit_code == 2


@pytest.mark.parametrize("words", [*COMMANDS, ["serve"]], ids=" ".join)
def test_a_log_of_a_newer_version(words, db, folder):
    with closing(sqlite3.connect(db)) as conn:
        conn.execute("INSERT INTO migrations VALUES ('of_next_year')")
        conn.commit()
    before = db.read_bytes()
    done = run(words, db, folder)
    assert done.exit_code == 2
    if words[0] != "restore":  # which asks nothing of what stands there
        assert "newer fieldkit" in done.output
    if words[0] != "demo":
        assert db.read_bytes()[100:] == before[100:]


@pytest.mark.parametrize("words", COMMANDS, ids=" ".join)
def test_a_log_with_torn_pages(words, db, folder):
    with db.open("rb+") as file:
        for page in range(3, db.stat().st_size // 2048, 2):
            file.seek(page * 2048)
            file.write(b"\xa5" * 2048)
    run(words, db, folder)


@pytest.mark.parametrize("held", [b"\xff\xfe\x00", b"", b'case_id\n"' + b"x" * 200_000])
def test_told_cases_that_are_no_table(held, folder):
    (folder / "cases.csv").write_bytes(held)
    done = CliRunner().invoke(main, ["diagnose", "score", str(folder / "cases.csv")])
    assert (done.exit_code, isinstance(done.exception, SystemExit)) == (2, True)


def test_rows_that_a_hand_has_changed(db, folder):
    """What is neither JSON nor text."""
    with closing(sqlite3.connect(db)) as conn:
        conn.executescript(
            "DROP TRIGGER entries_are_not_changed;"
            "UPDATE entries SET typed = '{', facts = x'ff', at = 'then' WHERE seq % 3 = 0;"
            "UPDATE joints SET name = x'ff', states = '['; UPDATE crew SET people = x'ff'"
        )
    with closing(sqlite3.connect(db.with_suffix(".people"))) as conn:
        conn.executescript("UPDATE people SET name = x'ff', role = 'king'")
    for words in COMMANDS:
        run(words, db, folder)


@pytest.mark.parametrize("words", COMMANDS, ids=" ".join)
def test_people_of_a_torn_or_newer_file(words, db, folder):
    with closing(sqlite3.connect(db.with_suffix(".people"))) as conn:
        conn.execute("PRAGMA user_version = 99")
    done = run(words, db, folder)
    if words[0] == "people":
        assert "newer fieldkit" in done.output
    db.with_suffix(".people").write_bytes(b"nothing " * 999)
    run(words, db, folder)


@contextmanager
def as_somebody_else():
    """Without the rights of who made the files; root is let everywhere."""
    if os.geteuid() == 0:
        os.seteuid(65534)
        try:
            yield
        finally:
            os.seteuid(0)
    else:
        yield


@pytest.mark.parametrize("words", COMMANDS, ids=" ".join)
def test_a_file_and_folder_that_cannot_be_written(words, db, folder):
    (folder / "brought.json").write_text('{"format": "fieldkit entries 1", "entries": []}')
    for one in db.parent.iterdir():
        one.chmod(0o444)
    db.parent.chmod(0o555)
    with as_somebody_else():
        run(words, db, folder)
    db.parent.chmod(0o755)


@pytest.mark.parametrize("words", COMMANDS, ids=" ".join)
@pytest.mark.parametrize("room", [100, 5_000])
def test_a_disk_without_room(words, room, db, folder):
    (folder / "brought.json").write_text('{"format": "fieldkit entries 1", "entries": []}')
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (room, hard))
    try:
        run(words, db, folder)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


def test_the_log_is_for_its_owner_alone(db, folder):
    db.chmod(0o644)
    run(["people", "list"], db, folder)
    with JobLog.open(db) as log:
        log.append([entry(900)], NOW)
        for one in db.parent.glob("log.*"):
            assert one.stat().st_mode & 0o077 == 0, one
    fresh = folder / "fresh" / "log.db"
    run(["people", "add-lead", "Cy", "--password", "violet gravel anchor teapot"], fresh, folder)
    assert fresh.parent.stat().st_mode & 0o077 == 0
    assert [one.name for one in fresh.parent.iterdir() if one.stat().st_mode & 0o077] == []


def test_every_hint_to_install_something_names_what_is_meant():
    """On a public registry the name of this program may be somebody else's."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    extras = project["optional-dependencies"].values()
    wanted = [*project["dependencies"], *(one for extra in extras for one in extra)]
    names = {re.split(r"[<>=\[]", one)[0] for one in wanted}
    found = []
    sources = [*ROOT.glob("fieldkit/**/*.py"), *ROOT.glob("templates/**/*.html")]
    texts = [one.read_text() for one in (*sources, ROOT / "README.md", ROOT / "DEVELOPERS.md")]
    node = re.search(r'NODE = "([^"]+)"', (ROOT / "fieldkit/phone/runtime.py").read_text())[1]
    for text in texts:
        for hint in re.findall(r"pip install ((?:--?[\w-]+ )*)(\S+)", text):
            found.append(hint[1].strip("'\"`").replace("{NODE}", node))
    assert found
    for one in found:
        assert one.startswith(".") or re.split(r"[<>=\[]", one)[0] in names, one
        assert not one.startswith("fieldkit")
    assert node in project["optional-dependencies"]["runtime"]
