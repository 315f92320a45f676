"""The tree over what arrived, against published vectors and the standard's own definitions."""

from __future__ import annotations

import hashlib
import json
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st
from support.entries import NOW, a_job, entry, tables_of

from fieldkit.cli.main import main
from fieldkit.joblog import JobLog, arrival, schema
from fieldkit.joblog.arrival import leaf_hash
from fieldkit.joblog.signing import all_entries, check, seal, whole_digest

#: Eight leaves and the roots over the first one, two … eight of them, and three proofs: the test
#: vectors published with the reference implementation of RFC 6962 (RFC 9162 has the same tree).
LEAVES = ["", "00", "10", "2021", "3031", "40414243", "5051525354555657",
          "606162636465666768696a6b6c6d6e6f"]  # fmt: skip
ROOTS = [
    "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
    "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
    "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
    "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
    "4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
    "76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
    "ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
    "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
]
PROOFS = {
    (1, 8): [
        "96a296d224f285c67bee93c30f8a309157f0daa35dc5b87e410b78630a09cfc7",
        "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
        "6b47aaf29ee3c2af9af889bc1fb9254dabd31177f16232dd6aab035ca39bf6e4",
    ],
    (6, 8): [
        "0ebc5d3437fbe2db158b9f126a1d118e308181031d0a949f8dededebc558ef6a",
        "ca854ea128ed050b41b35ffc1b87b8eb2bde461e9e3b5596ece6b9d5975a0ae0",
        "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
    ],
    (2, 5): [
        "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
        "bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b",
    ],
}


def mth(data: list[bytes]) -> bytes:
    """RFC 9162, section 2.1.1, as it is written there."""
    n = len(data)
    if n == 0:
        return hashlib.sha256(b"").digest()
    if n == 1:
        return hashlib.sha256(b"\x00" + data[0]).digest()
    k = 1
    while k * 2 < n:
        k *= 2
    return hashlib.sha256(b"\x01" + mth(data[:k]) + mth(data[k:])).digest()


def subproof(m: int, data: list[bytes], whole: bool) -> list[bytes]:
    """RFC 9162, section 2.1.4.1, as it is written there."""
    n = len(data)
    if m == n:
        return [] if whole else [mth(data)]
    k = 1
    while k * 2 < n:
        k *= 2
    if m <= k:
        return [*subproof(m, data[:k], whole), mth(data[k:])]
    return [*subproof(m - k, data[k:], False), mth(data[:k])]


def tree(data: list[bytes]) -> sqlite3.Connection:
    """A log of nothing but leaves."""
    conn = schema.connect(None).conn
    schema.migrate(conn)
    for one in data:
        arrival.add(conn, leaf_hash(one))
    return conn


def test_the_published_roots_and_proofs_come_out():
    with closing(tree([bytes.fromhex(one) for one in LEAVES])) as conn:
        assert [arrival.head(conn, n).root for n in range(1, 9)] == ROOTS
        for (first, second), proof in PROOFS.items():
            assert arrival.proof(conn, first, second) == proof
        assert arrival.head(conn, 0).root == hashlib.sha256(b"").hexdigest()
        assert arrival.head(conn, 9) is None


@pytest.fixture(scope="module")
def large():
    """A tree larger than the branches that are kept, with what stands in it."""
    data = [n.to_bytes(4) for n in range(1500)]
    with closing(tree(data)) as conn:
        yield conn, data


@given(st.data())
def test_any_head_and_proof_is_as_the_standard_defines_it(large, data):
    conn, leaves = large
    second = data.draw(st.integers(1, len(leaves)))
    first = data.draw(st.integers(1, second))
    assert arrival.head(conn, second).root == mth(leaves[:second]).hex()
    asked = [one.hex() for one in subproof(first, leaves[:second], True)]
    assert arrival.proof(conn, first, second) == asked


@pytest.mark.parametrize("size", [255, 256, 257, 511, 512, 513, 767, 768, 1024, 1025, 1280])
def test_at_the_edges_of_what_is_kept(large, size):
    conn, leaves = large
    assert arrival.head(conn, size).root == mth(leaves[:size]).hex()


def test_a_log_keeps_a_leaf_of_each_entry_once(log):
    log.append(a_job(), NOW)
    head = log.head()
    assert head.size == 7
    log.append([one.entry for one in log.since(0)], NOW)
    assert log.head() == head
    log.append([entry(9)], NOW)
    assert log.head(7) == head
    assert log.head().size == 8


def test_when_an_entry_arrived_is_a_part_of_it(log, tmp_path):
    made = a_job()
    log.append(made, NOW)
    with JobLog.open(tmp_path / "other.db") as other:
        other.append(made, "2026-05-02T00:00:00.000Z")
        assert other.head() != log.head()


# ── A log of an older version ───────────────────────────────────────────────────────────────

OLDER = Path(__file__).with_name("log_without_arrivals.sql")


@pytest.fixture
def older(tmp_path):
    """The file of a log that an older version of the program made, with a signed job."""
    path = tmp_path / "older.db"
    with closing(sqlite3.connect(path)) as conn:
        conn.executescript(OLDER.read_text(encoding="utf-8"))
    return path


def test_an_older_log_is_taken_over_with_its_seal(older):
    with JobLog.open(older) as log:
        (one,) = check(all_entries(log, "job-1"))
        assert (one.whole, one.covers, len(one.after)) == (True, 5, 1)
        assert log.head().size == 7
        before = tables_of(log)
        log.rebuild()
        assert tables_of(log) == before
    done = CliRunner().invoke(main, ["verify", "--db", str(older)], catch_exceptions=False)
    assert (done.exit_code, "every one holds" in done.output) == (0, True)


def test_an_older_log_can_be_signed_again_and_still_tells_a_hand(older):
    with JobLog.open(older) as log:
        said = {"name": "Bo", "waived": [], "complete": {}}
        log.append([seal(entry(20, "signature", understood=said), all_entries(log, "job-1"))], NOW)
        assert [one.whole for one in check(all_entries(log, "job-1"))] == [True, True]
    with closing(sqlite3.connect(older)) as conn:
        conn.execute("DROP TRIGGER entries_are_not_changed")
        conn.execute("UPDATE entries SET understood = '69.0' WHERE understood = '68.0'")
        conn.commit()
    with JobLog.open(older) as log:
        assert [one.whole for one in check(all_entries(log, "job-1"))] == [False, False]


def test_a_seal_that_an_older_phone_made_over_its_own_reading_holds(older):
    """Its browser had made 68 of 68.0; the person there signed the same number."""

    def legacy(body):
        return json.dumps(body, ensure_ascii=False, sort_keys=True, separators=(",", ":"))

    # What JavaScript's JSON.stringify(JSON.parse(text)) writes for the numbers in this log.
    written = {
        ":68.0": ":68",
        ":1.0": ":1",
        "[2.0,": "[2,",
        ":-0.0": ":0",
        ":1e+16": ":10000000000000000",
        ":1e-05": ":0.00001",
    }
    with JobLog.open(older) as log:
        digests = {}
        for one in all_entries(log, "job-1"):
            text = legacy(one.as_json())
            for ours, theirs in written.items():
                text = text.replace(ours, theirs)
            digests[one.id] = hashlib.sha256(legacy(json.loads(text)).encode()).hexdigest()
        said = {"name": "Cy", "waived": [], "complete": {}}
        result = {"digests": digests, "digest": whole_digest(digests), "entries": len(digests)}
        log.append([entry(30, "signature", understood=said, result=result)], NOW)
        assert [one.whole for one in check(all_entries(log, "job-1"))] == [True, True]
