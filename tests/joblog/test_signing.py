"""Seals: what they cover, what comes after, and that a hand in the file is found."""

from __future__ import annotations

import hashlib
import json
import re
import sqlite3
from contextlib import closing

import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st
from support.entries import NOW, a_job, entry

from fieldkit.cli.main import main
from fieldkit.flows.checklist import STAGES
from fieldkit.joblog import JobLog
from fieldkit.joblog.entry import FIELD_LIMIT, RESULT_LIMIT, json_text
from fieldkit.joblog.signing import (
    all_entries,
    check,
    last_own,
    points,
    seal,
    signatures,
    whole_digest,
)
from fieldkit.phone.exchange import take_in
from fieldkit.web.access import LARGE

NEXT_DAY = "2026-05-02T14:03:00.000Z"


def sign(log, n, name="Ann"):
    said = {"name": name, "waived": [], "complete": {}}
    made = seal(entry(n, "signature", understood=said), all_entries(log, "job-1"))
    log.append([made], NOW)
    return made


def test_a_seal_covers_all_before_it_and_shows_what_comes_after(log):
    log.append(a_job(), NOW)
    first = sign(log, 10)
    (one,) = check(all_entries(log, "job-1"))
    assert (one.whole, one.covers, one.after) == (True, 6, ())
    late = entry(11, note="added later")
    log.append([late], NOW)
    (one,) = check(all_entries(log, "job-1"))
    assert one.whole
    assert one.after == (late,)
    again = sign(log, 12, "Bo")
    old, new = check(all_entries(log, "job-1"))
    assert old.after == (late, again)
    assert (new.whole, new.covers, new.after) == (True, 8, ())
    assert set(again.result["digests"]) == {first.id, late.id}


def test_a_large_job_is_signed_at_once_and_sent_on(log):
    """Beyond what other entries may hold: a list of 12,000 digests, and of 600 joints."""
    notes = [entry(n) for n in range(12_000)]
    complete = {f"joint-{n}": [stage.id for stage in STAGES] for n in range(600)}
    said = {"name": "Ann", "waived": [], "complete": complete}
    made = seal(entry(12_000, "signature", understood=said), notes)
    assert len(json_text(made.result)) > RESULT_LIMIT
    assert len(json_text(made.understood)) > FIELD_LIMIT
    page = {"entries": [made.as_json()]}
    assert len(json_text(page)) < LARGE["phone_server.send"]
    assert take_in(log, page, NEXT_DAY)["kept"] == [made.id]
    assert signatures(all_entries(log, "job-1")) == (made,)


def test_the_digest_is_sha_256_over_canonical_lines(log):
    """Worked out beside our code with hashlib and json alone: no number here needs more."""
    log.append(a_job(), NOW)
    made = sign(log, 10)
    lines, told = [], ("form", "on", "digests", "entries")
    for one in sorted(all_entries(log, "job-1"), key=lambda e: e.id):
        body = one.as_json()
        if one.kind == "signature":
            body["result"] = {key: body["result"][key] for key in told}
        text = json.dumps(body, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
        lines.append(f"{one.id} {hashlib.sha256(text.encode()).hexdigest()}\n")
    assert made.result["digest"] == hashlib.sha256("".join(lines).encode()).hexdigest()


def test_no_seal_builds_on_one_that_is_broken_or_came_from_a_file(log):
    """A file, or an older program, may hold a signature with wrong digests of what is here."""
    log.append(a_job(), NOW)
    note = log.history(job_id="job-1", limit=1)[0].entry
    said = {"name": "Mr. Else", "complete": {}, "waived": []}
    wrong = {"digests": {note.id: "0" * 64, entry(99).id: "1" * 64}, "digest": "2" * 64}
    theirs = entry(10, "signature", understood=said, result=wrong)
    good = seal(entry(11, "signature", understood=said), all_entries(log, "job-1"))
    log.append([theirs, good], NOW)
    said = {"name": "Ann", "complete": {}, "waived": []}
    here = all_entries(log, "job-1")
    ours = seal(entry(12, "signature", understood=said), here, {good.id})
    assert ours.result["on"] == []
    assert ours.result["digests"].keys() == {one.id for one in here}
    log.append([ours], NOW)
    checked = check(all_entries(log, "job-1"))
    assert [one.whole for one in checked] == [False, True, True]
    assert last_own(checked, {ours.id}).signature.id == good.id
    assert last_own(checked, {one.signature.id for one in checked}) is None
    again = seal(entry(13, "signature", understood=said), all_entries(log, "job-1"), {good.id})
    assert (again.result["on"], list(again.result["digests"])) == ([ours.id], [ours.id])


@given(st.dictionaries(st.text("abc123", min_size=1), st.text("0123abcdef"), max_size=8))
def test_the_whole_digest_does_not_depend_on_the_order(digests):
    assert whole_digest(dict(reversed(digests.items()))) == whole_digest(digests)


def verified(path):
    """The command's exit status and what it said, both ways."""
    done = CliRunner().invoke(main, ["verify", "--db", str(path)], catch_exceptions=False)
    return done.exit_code, done.output


def by_hand(path, *statements, guards=True):
    """Change the file as any SQLite program can, and put its guards back."""
    with closing(sqlite3.connect(path)) as conn:
        kept = conn.execute("SELECT name, sql FROM sqlite_master WHERE type='trigger'").fetchall()
        for name, _ in kept:
            conn.execute(f"DROP TRIGGER {name}")
        for one, *values in statements:
            conn.execute(one, values)
        for _, statement in kept if guards else ():
            conn.execute(statement)
        conn.commit()


@pytest.fixture
def signed(tmp_path):
    """The file of a log with one signed job, and its entries in the order of their ids."""
    path = tmp_path / "log.db"
    with JobLog.open(path) as log:
        log.append(a_job(), NOW)
        sign(log, 10)
        entries = sorted(all_entries(log, "job-1"), key=lambda one: one.id)
    assert verified(path)[0] == 0
    return path, entries


@pytest.mark.parametrize(
    ("change", "first", "why"),
    [
        ("UPDATE entries SET note = 'dry' WHERE kind = 'note'", 5, "was changed"),
        ("UPDATE entries SET at = '2026-05-01T14:03:01.999Z' WHERE kind = 'joint'", 1, "changed"),
        ("UPDATE entries SET who = 'Bo' WHERE kind = 'job'", 0, "was changed"),
        ("UPDATE entries SET job = 'job-2' WHERE kind = 'note'", 5, "is missing"),
        ("DELETE FROM entries WHERE kind = 'result'", 4, "is missing"),
        ("DELETE FROM entries WHERE kind IN ('joint', 'note')", 1, "is missing"),
    ],
)
def test_the_first_entry_that_a_hand_changed_or_removed_is_named(signed, change, first, why):
    path, entries = signed
    by_hand(path, (change,))
    status, said = verified(path)
    assert status == 2
    assert re.search(f"is broken: entry {entries[first].id} .*{why}", said)


def test_entries_that_changed_places_are_found(signed):
    """Two answers swap their ids, and with them their place in the order of the work."""
    path, entries = signed
    one, other = entries[2].id, entries[3].id
    rename = "UPDATE entries SET id = ? WHERE id = ?"
    by_hand(
        path,
        (rename, "aside", one),
        (rename, one, other),
        (rename, other, "aside"),
    )
    status, said = verified(path)
    assert status == 2
    assert f"is broken: entry {one} was changed" in said


def test_the_order_of_arrival_is_no_part_of_what_was_signed(signed):
    """Another phone has the same entries in another order: the seal must hold there too."""
    path, _ = signed
    by_hand(path, ("UPDATE entries SET seq = 100 - seq",))
    status, said = verified(path)
    assert "digest" in said
    assert "is broken" not in said
    assert (status, "another order than they arrived in" in said) == (2, True)


@pytest.mark.parametrize(
    "change",
    [
        "UPDATE entries SET at = '2026-04-01T14:03:01.999Z' WHERE kind = 'signature'",
        "UPDATE entries SET who = 'Bo' WHERE kind = 'signature'",
        "UPDATE entries SET understood = replace(understood, 'dry fit', 'done')"
        " WHERE kind = 'signature'",
        "UPDATE entries SET understood = replace(understood, 'cured', 'closed')"
        " WHERE kind = 'signature'",
        "UPDATE entries SET note = 'all of it' WHERE kind = 'signature'",
    ],
)
def test_a_signatures_own_fields_are_under_its_seal(signed, change):
    """Who, when, what was waived and why."""
    path, _ = signed
    with JobLog.open(path) as log:
        gap = {"joint": "joint-1", "point": "cured", "reason": "dry fit"}
        said = {"name": "Bo", "waived": [gap], "complete": {}}
        made = seal(entry(20, "signature", understood=said, who="Ann"), all_entries(log, "job-1"))
        log.append([made], NOW)
    by_hand(path, (change,))
    status, said = verified(path)
    assert status == 2
    assert re.search("signed by Bo .* is broken", said)


def test_two_who_sign_without_signal_at_the_same_time_break_no_seal(log):
    log.append(a_job(), NOW)
    before = all_entries(log, "job-1")
    said = {"name": "Bo", "waived": [], "complete": {}}
    other = entry(11, note="seen by Bo alone")
    theirs = seal(entry(12, "signature", understood=said), (*before, other))
    sign(log, 10)
    log.append([theirs, other], NOW)
    sign(log, 20, "Cy")
    assert [one.whole for one in check(all_entries(log, "job-1"))] == [True] * 3


def test_a_whole_signed_job_that_was_removed_is_found(signed):
    path, _ = signed
    by_hand(
        path,
        ("DELETE FROM entries WHERE job = 'job-1'",),
        ("DELETE FROM jobs",),
        ("DELETE FROM joints",),
    )
    status, said = verified(path)
    assert status == 2
    assert "7 entries that arrived are gone or changed: number 1, 2, 3, 4, 5 …" in said


def test_an_entry_that_a_hand_put_in_is_found(signed):
    path, _ = signed
    made = entry(50).id
    by_hand(
        path,
        ("CREATE TEMP TABLE new AS SELECT * FROM entries WHERE kind = 'note'",),
        ("UPDATE new SET id = ?, note = 'new', seq = 99", made),
        ("INSERT INTO entries SELECT * FROM new",),
    )
    with JobLog.open(path) as log:
        log.rebuild()
    status, said = verified(path)
    assert (status, f"1 entries never arrived as they are: {made}." in said) == (2, True)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ("CREATE TRIGGER quiet BEFORE INSERT ON entries BEGIN SELECT RAISE(IGNORE); END",
         "not ours: quiet"),
        ("CREATE TABLE more (a)", "not ours: more"),
        ("DROP INDEX entries_by_job", "changed: entries_by_job"),
    ],
)  # fmt: skip
def test_what_was_put_into_the_file_or_taken_out_of_it_is_found(signed, change, said):
    path, _ = signed
    by_hand(path, (change,))
    found = verified(path)
    assert (found[0], said in found[1]) == (2, True)


def test_a_constraint_that_was_taken_away_is_found(signed):
    path, _ = signed
    with closing(sqlite3.connect(path)) as conn:
        conn.execute("PRAGMA writable_schema=ON")
        conn.execute("UPDATE sqlite_master SET sql = replace(sql, 'id TEXT NOT NULL UNIQUE',"
                     " 'id TEXT UNIQUE') WHERE name = 'entries'")  # fmt: skip
        conn.commit()
    status, said = verified(path)
    assert (status, "taken away or changed: entries." in said) == (2, True)


def test_an_entry_that_the_file_does_not_take_is_not_acknowledged(log):
    with closing(sqlite3.connect(log.path)) as conn:
        conn.execute(
            "CREATE TRIGGER quiet BEFORE INSERT ON entries BEGIN SELECT RAISE(IGNORE); END"
        )
    with pytest.raises(sqlite3.IntegrityError, match="did not keep it"):
        log.append([entry()], NOW)


def test_a_photo_that_was_changed_is_found_and_one_elsewhere_is_said(signed):
    path, _ = signed
    folder = path.with_name("log-photos")
    folder.mkdir()
    good, other = hashlib.sha256(b"a picture").hexdigest(), "ab" * 32
    (folder / f"{good}.jpg").write_bytes(b"a picture")
    with JobLog.open(path) as log:
        shots = [entry(30 + n, "photo", joint="joint-1", understood={"digest": one})
                 for n, one in enumerate((good, other))]  # fmt: skip
        log.append(shots, NOW)
    assert verified(path)[0] == 0
    assert "1 photos are not here" in verified(path)[1]
    (folder / f"{good}.jpg").write_bytes(b"another picture")
    status, said = verified(path)
    assert (status, f"1 photos are not what was taken: {good}." in said) == (2, True)


def test_the_head_on_a_paper_tells_a_log_that_was_written_anew(signed):
    path, _ = signed

    def asked(head):
        done = CliRunner().invoke(main, ["verify", "--db", str(path), "--head", head])
        return done.exit_code, done.output

    with JobLog.open(path) as log:
        head = log.head()
        paper = f"{head.size}:{head.root}"
        log.append([entry(40)], NOW)
    assert asked(paper)[0] == 0
    for wrong in (f"{head.size - 1}:{head.root}", "900:ab", "x"):
        status, said = asked(wrong)
        assert (status, "written anew" in said) == (2, True)


def test_a_signature_that_was_removed_is_found_under_the_next_one(signed):
    path, _ = signed
    with JobLog.open(path) as log:
        sign(log, 11, "Bo")
        first = next(one for one in all_entries(log, "job-1") if one.kind == "signature")
    by_hand(path, ("DELETE FROM entries WHERE id = ?", first.id))
    status, said = verified(path)
    assert status == 2
    assert "signed by Bo" in said
    assert "is missing" in said


@pytest.mark.parametrize(
    "change",
    [
        "UPDATE joints SET facts = replace(facts, '0.84', '0.7')",
        "UPDATE jobs SET name = 'South bed'",
        "DELETE FROM joints",
    ],
)
def test_a_hand_in_what_the_pages_read_is_found(signed, change):
    path, _ = signed
    by_hand(path, (change,))
    status, said = verified(path)
    assert status == 2
    assert "Job job-1 is not what its entries say" in said


def test_an_entry_that_cannot_be_read_any_more_is_said(signed):
    path, _ = signed
    by_hand(path, ("UPDATE entries SET facts = '{' WHERE kind = 'result'",))
    status, said = verified(path)
    assert status == 2
    assert "cannot be read any more" in said


def test_guards_that_are_gone_or_hollow_are_found(signed):
    path, _ = signed
    by_hand(
        path,
        ("CREATE TRIGGER entries_are_not_changed BEFORE UPDATE ON entries BEGIN SELECT 1; END",),
        guards=False,
    )
    status, said = verified(path)
    assert status == 2
    for name in ("entries_are_not_changed", "entries_are_not_removed", "entries_are_not_replaced"):
        assert name in said.splitlines()[-1]
    assert "not ours" not in said


def test_an_export_brought_in_elsewhere_keeps_its_seal(log):
    log.append(a_job(), NOW)
    sign(log, 10)
    with JobLog.memory() as other:
        other.append(tuple(reversed(all_entries(log, "job-1"))), NOW)
        assert all(one.whole for one in check(all_entries(other, "job-1")))


def test_points_say_what_is_missing_and_the_cure_by_its_clock(log):
    facts = {
        "parts.joints": ["solvent_socket"],
        "weld.made_at": "2026-05-01T12:00:00Z",
        "weld.ready_at": "2026-05-01T14:00:00Z",
    }
    log.append([entry(1, "pick", joint="k", facts=facts)], NOW)
    joint = log.joint("k")
    found = {one.id: one for one in points(joint, "2026-05-01T13:59:59.000Z")}
    assert not found["cured"].met
    assert not found["measure-pipe"].met
    assert "join-thread" not in found
    assert {one.id: one.met for one in points(joint, "2026-05-01T14:00:00.000Z")}["cured"]


def test_a_diagnosis_is_closed_by_a_later_test_that_holds(log):
    where = {"joint": "k", "run": "r"}
    leak = entry(1, "result", **where, flow="leak-now", result={"verdict": "x", "headline": "y"})
    log.append([leak], NOW)
    assert not {one.id: one.met for one in points(log.joint("k"), NOW)}["closed"]
    held = entry(2, "result", **where, flow="prove", result={"verdict": "holds", "headline": "y"})
    log.append([held], NOW)
    assert {one.id: one.met for one in points(log.joint("k"), NOW)}["closed"]
