"""``backup``, ``restore`` and ``demo wipe`` as commands: what they say and leave."""

from __future__ import annotations

import pytest
from click.testing import CliRunner
from support.entries import NOW, a_job, entry

from fieldkit.cli.demo import load_demo
from fieldkit.cli.main import main
from fieldkit.joblog import JobLog
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
    path.with_suffix(".secret").write_text("x")
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
