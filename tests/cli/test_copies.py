"""``backup``, ``restore`` and ``demo wipe`` as commands: what they say and leave."""

from __future__ import annotations

import sqlite3
import subprocess
import zipfile
from contextlib import closing
from pathlib import Path

import pytest
from click.testing import CliRunner
from support.debian import program
from support.entries import NOW, a_job, entry

from fieldkit.cli.demo import load_demo
from fieldkit.cli.main import main
from fieldkit.joblog import JobLog, upkeep
from fieldkit.joblog.people import People, Person
from fieldkit.web.photos import keep_photo


def run(*arguments):
    """Run a command inside this program; a crash is a crash of the test."""
    return CliRunner().invoke(main, [str(one) for one in arguments], catch_exceptions=False)


@pytest.fixture(autouse=True)
def home(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.delenv("FIELDKIT_DB", raising=False)
    return tmp_path


def a_log(path, *entries):
    path.parent.mkdir(parents=True, exist_ok=True)
    with JobLog.open(path) as log:
        log.append(entries or a_job(), NOW)
    return path


@pytest.fixture
def demo(home):
    """The demo where ``serve --demo`` keeps it, with a photo, a note, and its secret."""
    path = home / "data" / "fieldkit" / "demo.db"
    path.parent.mkdir(parents=True)
    with JobLog.open(path) as log:
        load_demo(log)
        log.append([entry(1, job=log.jobs()[0].id, note="tried it out")], NOW)
    keep_photo(path.with_name("demo-photos"), b"a picture")
    for name in ("demo.secret", "demo.upkeep", "demo-before-make-marks.db"):
        path.with_name(name).write_text("x")
    return path


# ── backup, restore ─────────────────────────────────────────────────────────────────────────


def test_a_backup_goes_to_an_empty_place_and_over_nothing(home):
    db = a_log(home / "log.db")
    keep_photo(home / "log-photos", b"a picture")
    done = run("backup", home / "copy.zip", "--db", db)
    assert done.exit_code == 0, done.output
    assert done.stdout.startswith("7 entries, 1 photos and 0 people of")
    again = run("backup", home / "copy.zip", "--db", db)
    assert (again.exit_code, "already" in again.stderr) == (2, True)
    # Into the data folder, where nothing stands yet.
    done = run("restore", home / "copy.zip")
    assert done.exit_code == 0, done.output
    assert "7 entries and 1 photos" in done.stdout
    assert "0 of 0 seals hold" in done.stdout
    with JobLog.open(home / "data" / "fieldkit" / "fieldkit.db") as log:
        assert log.job("job-1").name == "North bed"
    over = run("restore", home / "copy.zip")
    assert (over.exit_code, "--replace" in over.stderr) == (2, True)
    aside = run("restore", home / "copy.zip", "--replace")
    assert aside.exit_code == 0, aside.output
    assert "What stood there before is in" in aside.stdout


def test_something_else_is_no_backup(home):
    (home / "notes.txt").write_text("bread, milk")
    done = run("restore", home / "notes.txt")
    assert done.exit_code == 2
    assert "no whole backup" in done.stderr
    assert not (home / "data" / "fieldkit" / "fieldkit.db").exists()


# ── demo wipe ───────────────────────────────────────────────────────────────────────────────


def test_the_demo_is_wiped_with_one_command_which_says_what_went(demo):
    done = run("demo", "wipe")
    assert done.exit_code == 0, done.output
    assert f"Removed: {demo}" in done.stdout
    assert "of them 1 added here; 1 photos" in done.stdout
    assert "Plum Hollow, new beds" in done.stdout
    assert not list(demo.parent.iterdir())
    again = run("demo", "wipe")
    assert (again.exit_code, "There is no demo at" in again.stderr) == (2, True)


@pytest.mark.parametrize("how", [["--mine-too"], []])
def test_a_log_that_is_not_the_demos_is_left_as_it_is(home, how):
    db = a_log(home / "log.db")
    before = db.read_bytes()
    done = run("demo", "wipe", *how, "--db", db)
    assert done.exit_code == 2
    assert "is not the demo" in done.stderr
    assert db.read_bytes() == before


def own_job(path):
    a_log(path, entry(2, "job", job="mine", understood={"name": "My own beds"}))


def own_prices(path):
    a_log(path, entry(2, "prices", job="", understood={"tee_0500": 2.0}))


def own_people(path):
    store = People(path.with_suffix(".people"))
    store.add(Person("id-1", "Ann", "lead"), "hash")
    store.close()


@pytest.mark.parametrize(
    ("add", "named"),
    [(own_job, "My own beds"), (own_prices, "a price list"), (own_people, "Ann, who may enter")],
)
def test_work_of_ones_own_in_the_demo_is_removed_only_on_purpose(demo, home, add, named):
    add(demo)
    done = run("demo", "wipe")
    assert done.exit_code == 2
    assert named in done.stderr
    assert demo.is_file()
    # Named as somebody's log, it is never removed.
    assert run("demo", "wipe", "--mine-too", "--db", demo).exit_code == 2
    assert demo.is_file()
    done = run("demo", "wipe", "--mine-too")
    assert done.exit_code == 0, done.output
    assert not list(demo.parent.iterdir())


def test_the_demo_is_not_wiped_while_it_is_served(demo):
    with JobLog.open(demo) as served:
        done = run("demo", "wipe")
        assert done.exit_code == 2
        assert "Stop the server" in done.stderr
        assert served.jobs()
    assert run("demo", "wipe").exit_code == 0


def test_what_somebody_else_put_beside_the_photos_stays(demo):
    (demo.with_name("demo-photos") / "holiday.png").write_bytes(b"mine")
    assert run("demo", "wipe").exit_code == 0
    assert [one.name for one in demo.parent.rglob("*") if one.is_file()] == ["holiday.png"]


# ── each night: keep, encrypt, drill ────────────────────────────────────────────────────────


@pytest.fixture
def night(monkeypatch):
    """Tell the commands what time it is."""

    def tell(at):
        monkeypatch.setattr("fieldkit.web.clock.now", lambda: at)

    return tell


def test_a_folder_keeps_what_its_rule_says(home, night):
    db, folder = a_log(home / "log.db"), home / "copies"
    assert run("backup", folder, "--keep", "2d", "--db", db).exit_code == 2  # no such folder
    folder.mkdir()
    (folder / "log-notes.txt").write_text("not ours")
    for day in (1, 2, 3):
        night(f"2026-05-0{day}T02:30:00.000Z")
        done = run("backup", folder, "--keep", "2d", "--db", db)
        assert done.exit_code == 0, done.output
    assert "2 copies stay, 1 were older" in done.stdout
    assert {one.name for one in folder.iterdir()} == {
        "log-notes.txt", "log-20260502T023000Z.zip", "log-20260503T023000Z.zip"
    }  # fmt: skip
    noted = upkeep.done(db)["backup"]
    assert (noted["at"], noted["wrong"]) == ("2026-05-03T02:30:00.000Z", "")


def test_a_failed_backup_takes_no_older_one_away(home, night, monkeypatch):
    db, folder = a_log(home / "log.db"), home / "copies"
    folder.mkdir()
    for day in (1, 2):
        night(f"2026-05-0{day}T02:30:00.000Z")
        run("backup", folder, "--keep", "1d", "--db", db)
    before = {one.name for one in folder.iterdir()}

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("fieldkit.joblog.backup._write", full)
    night("2026-05-03T02:30:00.000Z")
    done = run("backup", folder, "--keep", "1d", "--db", db)
    assert (done.exit_code, "No space" in done.stderr) == (2, True)
    assert {one.name for one in folder.iterdir()} == before
    assert "No space" in upkeep.done(db)["backup"]["wrong"]


def test_a_drill_puts_the_newest_back_and_harms_nothing(home, night):
    db, folder = a_log(home / "log.db"), home / "copies"
    folder.mkdir()
    keep_photo(home / "log-photos", b"a picture")
    run("backup", folder, "--keep", "7d", "--db", db)
    with JobLog.open(db) as log:
        log.append([entry(50, note="since then")], NOW)
    before = {one: one.stat().st_mtime_ns for one in home.rglob("*") if one.suffix != ".upkeep"}
    done = run("drill", folder, "--db", db)
    assert done.exit_code == 0, done.output
    assert "put back: 7 entries, 1 photos" in done.stdout
    assert "has 1 more entries" in done.stdout
    after = {one: one.stat().st_mtime_ns for one in home.rglob("*") if one.suffix != ".upkeep"}
    assert after.keys() == before.keys()
    assert upkeep.done(db)["drill"]["wrong"] == ""


def test_a_drill_tells_a_copy_of_another_log(home):
    db, other = a_log(home / "log.db"), a_log(home / "other.db", entry(1, note="another"))
    run("backup", home / "copy.zip", "--db", other)
    done = run("drill", home / "copy.zip", "--db", db)
    assert done.exit_code == 2
    assert "does not begin with what this copy holds" in done.stderr
    assert "does not begin" in upkeep.done(db)["drill"]["wrong"]


def test_a_drill_tells_a_torn_copy_and_a_lost_photo(home):
    db = a_log(home / "log.db")
    with JobLog.open(db) as log:
        digest = keep_photo(home / "log-photos", b"a picture")
        log.append([entry(8, "photo", joint="joint-1", understood={"digest": digest})], NOW)
    photo = next((home / "log-photos").iterdir())
    aside = photo.rename(home / "aside.jpg")
    run("backup", home / "without.zip", "--db", db)
    aside.rename(photo)
    done = run("drill", home / "without.zip", "--db", db)
    assert (done.exit_code, "1 photos that were here" in done.stderr) == (2, True), done.output
    run("backup", home / "copy.zip", "--db", db)
    whole = (home / "copy.zip").read_bytes()
    (home / "torn.zip").write_bytes(whole[: len(whole) // 2])
    assert run("drill", home / "torn.zip", "--db", db).exit_code == 2


def test_an_encrypted_copy_opens_for_its_key_alone(home, monkeypatch):
    """By Debian's ``age``, which also opens it without us."""
    age = Path(program("age"))
    monkeypatch.setenv("PATH", str(age.parent), prepend=":")
    for key in ("ours", "another"):
        subprocess.run([age.with_name("age-keygen"), "-o", home / key], check=True,
                       capture_output=True)  # fmt: skip
    public = (home / "ours").read_text().split("public key: ")[1].split()[0]
    db, folder = a_log(home / "log.db"), home / "copies"
    folder.mkdir()
    keep_photo(home / "log-photos", b"a picture")
    done = run("backup", folder, "--keep", "7d", "--encrypt-to", public, "--db", db)
    assert done.exit_code == 0, done.output
    (copy,) = folder.iterdir()
    assert copy.name.endswith(".zip.age")
    assert copy.stat().st_mode & 0o077 == 0
    assert b"North bed" not in copy.read_bytes()
    # Without us.
    subprocess.run([age, "-d", "-i", home / "ours", "-o", home / "plain.zip", copy], check=True)
    with zipfile.ZipFile(home / "plain.zip") as archive:
        assert archive.testzip() is None
        archive.extract("log.db", home / "out")
    with closing(sqlite3.connect(home / "out" / "log.db")) as conn:
        assert conn.execute("SELECT count(*) FROM entries").fetchone() == (7,)
    # With us.
    assert "encrypted" in run("drill", folder, "--db", db).stderr
    assert run("drill", folder, "--identity", home / "another", "--db", db).exit_code == 2
    assert run("drill", folder, "--identity", home / "ours", "--db", db).exit_code == 0
    back = home / "back" / "log.db"
    done = run("restore", copy, "--identity", home / "ours", "--db", back)
    assert done.exit_code == 0, done.output
    assert list(back.parent.glob(".opened-*")) == []


def test_a_key_that_is_none_leaves_nothing_behind(home, monkeypatch):
    monkeypatch.setenv("PATH", str(Path(program("age")).parent), prepend=":")
    db = a_log(home / "log.db")
    for wrong in ("age1nothing", str(home / "no-file")):
        done = run("backup", home / "copy.zip", "--encrypt-to", wrong, "--db", db)
        assert done.exit_code == 2
        assert "age did not do it" in done.stderr
    monkeypatch.setenv("PATH", "")
    done = run("backup", home / "copy.zip", "--encrypt-to", "age1nothing", "--db", db)
    assert (done.exit_code, "apt install age" in done.stderr) == (2, True)
    assert list(home.glob("copy*")) == []
