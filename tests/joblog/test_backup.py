"""A copy made while others save is whole; a torn or altered one is never put back."""

from __future__ import annotations

import json
import sqlite3
import threading
import zipfile
from contextlib import closing, suppress
from hashlib import sha256
from pathlib import Path

import pytest
from support.entries import NOW, a_job, entry, tables_of

from fieldkit.engine.problems import Problem
from fieldkit.joblog import JobLog
from fieldkit.joblog.backup import Place, backup
from fieldkit.joblog.people import People, Person
from fieldkit.joblog.restore import restore
from fieldkit.joblog.signing import all_entries, check, seal

PHOTO = b"\xff\xd8 a picture, for all that a copy knows \xff\xd9"
DIGEST = sha256(PHOTO).hexdigest()


def place_in(folder: Path) -> Place:
    names = ("log.db", "log.people", "log-photos", "log.secret")
    return Place(*(folder / name for name in names))


def put_photo(place: Place, data: bytes = PHOTO) -> str:
    place.photos.mkdir(exist_ok=True)
    digest = sha256(data).hexdigest()
    (place.photos / f"{digest}.jpg").write_bytes(data)
    return digest


@pytest.fixture
def place(tmp_path):
    return place_in(tmp_path)


@pytest.fixture
def whole(log, place, tmp_path):
    """A backup of a signed job with a photo and a person who is logged in."""
    put_photo(place)
    photo = entry(8, "photo", joint="joint-1", understood={"digest": DIGEST, "about": ""})
    log.append([*a_job(), photo], NOW)
    made = entry(9, "signature", understood={"name": "Ann", "waived": []})
    log.append([seal(made, all_entries(log, "job-1"))], NOW)
    store = People(place.people)
    store.add(Person("id-1", "Ann", "lead"), "the-hash")
    store.begin("the-session", "id-1", "A phone", 1)
    store.invite("the-invitation", "Bo", "technician", 1)
    store.close()
    (tmp_path / "log.secret").write_text("the-secret")
    backup(log, place, tmp_path / "copy.zip", NOW)
    return tmp_path / "copy.zip"


def test_a_copy_made_while_others_save_is_whole(log, place, tmp_path):
    log.append([entry(0, note="x" * 2000) for _ in range(300)], NOW)
    stop = threading.Event()
    written = []

    def write():
        n = 0
        while not stop.is_set():
            # As the pages do: the photo is on the disk before its entry is in the log.
            digest = put_photo(place, PHOTO + str(n).encode())
            pair = [
                entry(n, "photo", joint="k", understood={"digest": digest}),
                entry(n, "pick", joint="k", facts={"pipe.od_in": n}),
            ]
            written.extend(log.append(pair, NOW).stored)
            n += 1

    writer = threading.Thread(target=write)
    writer.start()
    try:
        done = [backup(log, place, tmp_path / f"copy-{n}.zip", NOW) for n in range(4)]
    finally:
        stop.set()
        writer.join()
    counts = [one.entries for one in done]
    assert counts == sorted(counts)
    assert len(written) > 0
    assert not list(tmp_path.glob("*.part"))
    for n, one in enumerate(done):
        assert one.entries % 2 == 0, "half of a save was copied"
        assert one.elsewhere == 0, "an entry was copied without its photo"
        there = place_in(tmp_path / f"back-{n}")
        assert restore(tmp_path / f"copy-{n}.zip", there, "now").entries == one.entries
        with JobLog.open(there.log) as copy:
            assert copy.count() == one.entries
            known = {photo.understood["digest"] for photo in copy.photos("job-1", "k")}
        assert known <= {path.stem for path in there.photos.iterdir()}


def test_what_is_put_back_is_what_was_there(log, whole, place, tmp_path):
    there = place_in(tmp_path / "new" / "place")
    done = restore(whole, there, "now")
    assert (done.entries, done.photos, done.seals, done.broken) == (9, 1, 1, ())
    assert (there.photos / f"{DIGEST}.jpg").read_bytes() == PHOTO
    with JobLog.open(there.log) as copy:
        assert tables_of(copy) == tables_of(log)
        assert all(one.whole for one in check(all_entries(copy, "job-1")))
        assert copy.append([entry(99)], NOW).stored
    store = People(there.people)
    assert store.named("ann") == (Person("id-1", "Ann", "lead"), "the-hash")
    store.close()
    private = [there.log, there.people, there.photos, there.log.parent, whole]
    assert all(one.stat().st_mode & 0o077 == 0 for one in private)


def test_a_copy_opens_no_door(whole):
    with zipfile.ZipFile(whole) as archive:
        assert set(archive.namelist()) == {
            "about.json", "log.db", "people.db", f"photos/{DIGEST}.jpg",
        }  # fmt: skip
        everything = b"".join(archive.read(one) for one in archive.namelist())
    for secret in (b"the-secret", *(sha256(one).hexdigest().encode()
                                    for one in (b"the-session", b"the-invitation"))):  # fmt: skip
        assert secret not in everything


def test_the_log_in_a_copy_is_one_plain_file(whole, tmp_path):
    with zipfile.ZipFile(whole) as archive:
        archive.extract("log.db", tmp_path / "out")
    with closing(sqlite3.connect(tmp_path / "out" / "log.db")) as conn:
        assert conn.execute("PRAGMA journal_mode").fetchone() == ("delete",)
        assert conn.execute("SELECT count(*) FROM entries").fetchone() == (9,)


def test_a_copy_is_never_written_over(log, place, tmp_path):
    (tmp_path / "copy.zip").write_text("the only copy of last year")
    with pytest.raises(Problem, match="already"):
        backup(log, place, tmp_path / "copy.zip", NOW)
    assert (tmp_path / "copy.zip").read_text() == "the only copy of last year"


def test_a_folder_that_is_not_there_is_said(log, place, tmp_path):
    with pytest.raises(Problem, match="could not be made"):
        backup(log, place, tmp_path / "nowhere" / "copy.zip", NOW)


def test_a_damaged_photo_is_left_out_and_named(log, place, tmp_path):
    (place.photos).mkdir()
    (place.photos / f"{DIGEST}.jpg").write_bytes(PHOTO[:-1])
    assert backup(log, place, tmp_path / "copy.zip", NOW).damaged == (DIGEST,)
    assert restore(tmp_path / "copy.zip", place_in(tmp_path / "there"), "now").photos == 0


# ── What is not put back ────────────────────────────────────────────────────────────────────


def anew(whole: Path, change, *, relist: bool = False) -> None:
    """Write the archive again with its members changed, its list too if asked."""
    with zipfile.ZipFile(whole) as archive:
        members = {name: archive.read(name) for name in archive.namelist()}
    change(members)
    if relist:
        about = json.loads(members["about.json"])
        about["sha256"] = {
            name: sha256(data).hexdigest() for name, data in members.items() if name != "about.json"
        }
        members["about.json"] = json.dumps(about).encode()
    with zipfile.ZipFile(whole, "w") as archive:
        for name, data in members.items():
            archive.writestr(name, data)


def in_the_log(members, *statements):
    """Change the log in the archive by hand, its guards away and back again."""
    with closing(sqlite3.connect(":memory:")) as conn:
        conn.deserialize(members["log.db"])
        guards = conn.execute("SELECT name, sql FROM sqlite_master WHERE type='trigger'").fetchall()
        for name, _ in guards:
            conn.execute(f"DROP TRIGGER {name}")
        for one in statements:
            conn.execute(one)
        for _, sql in guards:
            conn.execute(sql)
        conn.commit()
        members["log.db"] = conn.serialize()


def refused(whole, tmp_path, match, **how):
    with pytest.raises(Problem, match=match):
        restore(whole, place_in(tmp_path / "there"), "now", **how)
    assert not list((tmp_path / "there").iterdir()), "something of it was left"


@pytest.mark.parametrize("keep", [0, 10, 0.5, 0.99])
def test_a_torn_copy_is_refused(whole, tmp_path, keep):
    data = whole.read_bytes()
    whole.write_bytes(data[: int(len(data) * keep) if keep < 1 else keep])
    refused(whole, tmp_path, "no whole backup")


def test_a_flipped_bit_anywhere_is_refused_or_in_no_member(whole, tmp_path):
    data = whole.read_bytes()
    for n in range(40):
        at = n * len(data) // 40
        whole.write_bytes(data[:at] + bytes([data[at] ^ 0x10]) + data[at + 1 :])
        there = place_in(tmp_path / f"there-{n}")
        with suppress(Problem):
            restore(whole, there, "now")
        left = sorted(path.name for path in there.log.parent.iterdir())
        if left:  # it was a date or a flag of the archive itself
            assert left == ["log-photos", "log.db", "log.people"]
            assert (there.photos / f"{DIGEST}.jpg").read_bytes() == PHOTO


def swap(name, data):
    return lambda members: members.__setitem__(name, data)


@pytest.mark.parametrize(
    ("change", "relist", "match"),
    [
        (swap("log.db", b"SQLite format 3\0 or so"), False, "is not what it was"),
        (swap("log.db", b"no database, but listed as if it were" * 99), True, "is damaged"),
        (swap("people.db", b"no database, but listed as if it were" * 99), True, "is damaged"),
        (swap(f"photos/{DIGEST}.jpg", b"another picture"), False, "is not what it was"),
        (swap(f"photos/{DIGEST}.jpg", b"another picture"), True, "is not what it was"),
        (swap("../evil.jpg", b"x"), False, "not what its list says"),
        (swap("../evil.jpg", b"x"), True, "not what its list says"),
        (swap("photos/../../evil.jpg", b"x"), True, "not what its list says"),
        (swap("about.json", b"{}"), False, "not what its list says"),
        (swap("about.json", b"{"), False, "torn, changed"),
        (lambda members: members.pop("about.json"), False, "not what its list says"),
        (lambda members: members.pop("people.db"), False, "not what its list says"),
        (lambda members: members.pop("log.db"), True, "not what its list says"),
        (lambda m: in_the_log(m, "DELETE FROM entries WHERE kind = 'photo'"), True, "as many"),
    ],
)  # fmt: skip
def test_an_altered_copy_is_refused(whole, tmp_path, change, relist, match):
    anew(whole, change, relist=relist)
    refused(whole, tmp_path, match)
    assert not list(tmp_path.rglob("evil.jpg"))


def test_a_broken_seal_in_a_copy_is_named_and_put_back_only_on_purpose(whole, tmp_path):
    anew(
        whole,
        lambda m: in_the_log(m, "UPDATE entries SET note = 'dry' WHERE kind = 'note'"),
        relist=True,
    )
    refused(whole, tmp_path, "a seal is broken: job job-1, entry .* was changed")
    done = restore(whole, place_in(tmp_path / "there"), "now", broken_seals=True)
    assert "was changed" in done.broken[0]


def test_what_the_pages_read_is_worked_out_anew(log, whole, tmp_path):
    anew(whole, lambda m: in_the_log(m, "UPDATE joints SET facts = '{}'"), relist=True)
    there = place_in(tmp_path / "there")
    restore(whole, there, "now")
    with JobLog.open(there.log) as copy:
        assert tables_of(copy) == tables_of(log)


# ── What stands there ───────────────────────────────────────────────────────────────────────


def test_what_stands_there_is_kept_and_moved_aside_only_on_purpose(whole, tmp_path):
    there = place_in(tmp_path / "there")
    there.log.parent.mkdir()
    with JobLog.open(there.log) as other:
        other.append([entry(50, note="only here")], NOW)
    put_photo(there, b"only here too")
    there.secret.write_text("phones know this log by it")
    with pytest.raises(Problem, match=r"already: log\.db, log-photos"):
        restore(whole, there, "now")
    with JobLog.open(there.log) as other:
        assert other.count() == 1
        with pytest.raises(Problem, match="is in use"):
            restore(whole, there, "now", replace=True)
        assert other.append([entry(51)], NOW).stored
    done = restore(whole, there, "now", replace=True)
    with JobLog.open(done.aside / "log.db") as before, JobLog.open(there.log) as now:
        assert (before.count(), now.count()) == (2, 9)
    assert [path.read_bytes() for path in (done.aside / "log-photos").iterdir()] == [
        b"only here too"
    ]
    assert not there.secret.exists(), "phones would not see that this is another copy"
    assert (done.aside / "log.secret").exists()
    again = restore(whole, there, "now", replace=True)
    assert again.aside != done.aside


def test_a_copy_that_is_not_whole_moves_nothing(whole, tmp_path):
    there = place_in(tmp_path / "there")
    there.log.parent.mkdir()
    with JobLog.open(there.log) as other:
        other.append([entry(50, note="only here")], NOW)
    whole.write_bytes(whole.read_bytes()[:-100])
    with pytest.raises(Problem, match="no whole backup"):
        restore(whole, there, "now", replace=True)
    assert [path.name for path in there.log.parent.iterdir()] == ["log.db"]
