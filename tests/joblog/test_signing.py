"""Seals: what they cover, what comes after, and that a hand in the file is found."""

from __future__ import annotations

import hashlib
import json
import sqlite3
from contextlib import closing

import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st
from support.entries import NOW, a_job, entry

from fieldkit.joblog import JobLog
from fieldkit.joblog.signing import all_entries, check, points, seal, whole_digest
from fieldkit.web.cli import main


def sign(log, n, name="Ann"):
    made = entry(
        n,
        "signature",
        understood={"name": name, "waived": [], "complete": {}},
        result=seal(all_entries(log, "job-1")),
    )
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


def test_the_digest_is_sha_256_over_canonical_lines(log):
    """Worked out beside our code with hashlib and json alone."""
    log.append(a_job(), NOW)
    made = sign(log, 10)
    lines = []
    for one in sorted(all_entries(log, "job-1"), key=lambda e: e.id):
        if one.kind == "signature":
            continue
        text = json.dumps(one.as_json(), ensure_ascii=False, sort_keys=True, separators=(",", ":"))
        lines.append(f"{one.id} {hashlib.sha256(text.encode()).hexdigest()}\n")
    assert made.result["digest"] == hashlib.sha256("".join(lines).encode()).hexdigest()


@given(st.dictionaries(st.text("abc123", min_size=1), st.text("0123abcdef"), max_size=8))
def test_the_whole_digest_does_not_depend_on_the_order(digests):
    assert whole_digest(dict(reversed(digests.items()))) == whole_digest(digests)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ("UPDATE entries SET note = 'dry' WHERE kind = 'note'", "was changed"),
        ("UPDATE entries SET at = '2026-05-01T14:03:01.999Z' WHERE kind = 'joint'", "was changed"),
        ("UPDATE entries SET who = 'Bo' WHERE kind = 'job'", "was changed"),
        ("DELETE FROM entries WHERE kind = 'result'", "is missing"),
    ],
)
def test_a_hand_in_the_file_is_found(tmp_path, change, said):
    path = tmp_path / "log.db"
    with JobLog.open(path) as log:
        log.append(a_job(), NOW)
        sign(log, 10)
    done = CliRunner().invoke(main, ["verify", "--db", str(path)])
    assert (done.exit_code, done.output.splitlines()[-1]) == (0, "1 seals, and every one holds.")
    with closing(sqlite3.connect(path)) as conn:
        kept = conn.execute("SELECT name, sql FROM sqlite_master WHERE type='trigger'").fetchall()
        for name, _ in kept:
            conn.execute(f"DROP TRIGGER {name}")
        conn.execute(change)
        conn.commit()
    done = CliRunner().invoke(main, ["verify", "--db", str(path)])
    assert done.exit_code == 2
    assert "guards were taken away" in done.output
    with closing(sqlite3.connect(path)) as conn:
        for _, statement in kept:
            conn.execute(statement)
        conn.commit()
    done = CliRunner().invoke(main, ["verify", "--db", str(path)])
    assert done.exit_code == 2
    assert said in done.output


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
    log.append([entry(1, joint="k", facts=facts)], NOW)
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
