"""A program killed while it saves: what it was told is saved is there, once."""

from __future__ import annotations

import os
import random
import signal
import sqlite3
import subprocess
import sys
import time
from contextlib import closing

import pytest
from support.entries import NOW, tables_of

from fieldkit.joblog import JobLog

#: Saves an answer and its result at a time, and says each id only when the log has said "kept".
SAVER = """
import os, sys
from fieldkit.flows.catalogue import flows
from fieldkit.joblog import Entry, JobLog, new_id, utc_text

flows()  # read before the clock runs
path, start = sys.argv[1], int(sys.argv[2])
log = JobLog.open(path)
where = {"job": "job-1", "joint": "joint-1", "flow": "measure-pipe", "run": "run-1"}
print("ready", flush=True)
for n in range(start, start + 100):
    at_ms = 1_777_644_180_000 + n
    made = [
        Entry(id=new_id(at_ms, os.urandom(10), k), at=utc_text(at_ms), kind=kind, **where, **more)
        for k, (kind, more) in enumerate([
            ("answer", {"step": "od", "understood": n, "note": f"save {n} " + "x" * 500}),
            ("result", {"result": {"verdict": "ok", "n": n}, "facts": {"pipe.od_in": n}}),
        ])
    ]
    done = log.append(made, utc_text(at_ms))
    print(*done.stored, flush=True)
"""


@pytest.mark.parametrize("seed", range(2))
def test_every_acknowledged_save_survives_a_kill(tmp_path, seed):
    """200 entries a time are being saved when the program is killed with no warning."""
    chance = random.Random(seed)  # noqa: S311  -- when to kill, no secret
    path = tmp_path / "log.db"
    acknowledged: list[str] = []
    kills = 0
    for start in range(0, 400, 100):
        with subprocess.Popen(
            [sys.executable, "-c", SAVER, str(path), str(start)], stdout=subprocess.PIPE, text=True
        ) as saver:
            assert saver.stdout.readline() == "ready\n"
            time.sleep(chance.uniform(0.0, 0.03))
            if saver.poll() is None:
                os.kill(saver.pid, signal.SIGKILL)
                kills += 1
            lines = saver.stdout.read().splitlines(keepends=True)
            # A line cut short by the kill was never heard.
            acknowledged.extend(one for line in lines if line[-1] == "\n" for one in line.split())
    assert kills > 0
    assert acknowledged
    with closing(sqlite3.connect(path)) as conn:
        assert conn.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        kept = [row[0] for row in conn.execute("SELECT id FROM entries")]
        halves = conn.execute("SELECT count(*) FROM entries GROUP BY at").fetchall()
    assert len(kept) == len(set(kept))
    assert set(acknowledged) <= set(kept)
    assert set(halves) <= {(2,)}, "an answer was kept without its result"
    with JobLog.open(path) as log:
        before = tables_of(log)
        log.rebuild()
        assert tables_of(log) == before, "the read models fell behind the entries"
        if kept:
            again = [log.entry(one).entry for one in kept]
            assert log.append(again, NOW).already == tuple(kept)
