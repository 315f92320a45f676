"""Many at once: threads of one server, and programs beside each other on one file."""

from __future__ import annotations

import subprocess
import sys
import threading
from concurrent.futures import ThreadPoolExecutor

from support.entries import NOW, entry, tables_of

from fieldkit.joblog import JobLog

CROWD = 20
#: Each takes most of a second to start, and two at a time do anything on two cores.
PROGRAMS = 8


def test_twenty_threads_save_and_read_at_once(log):
    made = [[entry(n, joint=f"k{n % 3}", device=f"d{d}") for n in range(15)] for d in range(CROWD)]
    start = threading.Barrier(CROWD)

    def work(mine):
        start.wait()
        for one in mine:
            assert log.append([one], NOW).stored == (one.id,)
            assert log.entry(one.id).entry == one
            assert log.job("job-1").entries >= 1
            log.search("nothing")
        return len(mine)

    with ThreadPoolExecutor(CROWD) as crowd:
        assert sum(crowd.map(work, made)) == CROWD * 15
    assert log.count() == log.job("job-1").entries == CROWD * 15
    before = tables_of(log)
    log.rebuild()
    assert tables_of(log) == before


def test_the_same_save_from_twenty_threads_is_kept_once(log):
    one = entry(note="double tap")
    start = threading.Barrier(CROWD)

    def tap(_):
        start.wait()
        return log.append([one], NOW)

    with ThreadPoolExecutor(CROWD) as crowd:
        done = list(crowd.map(tap, range(CROWD)))
    assert sorted(len(each.stored) for each in done) == [0] * (CROWD - 1) + [1]
    assert sum(len(each.already) for each in done) == CROWD - 1
    assert log.job("job-1").entries == 1


def test_a_log_in_memory_serves_several_threads():
    with JobLog.memory() as log, ThreadPoolExecutor(4) as crowd:
        list(crowd.map(lambda n: log.append([entry(n)], NOW), range(40)))
        assert log.count() == log.job("job-1").entries == 40


#: Opens a file that may not be there yet, at the same moment as the others, and saves.
PROGRAM = """
import os, sys
from fieldkit.joblog import Entry, JobLog, new_id, utc_text

sys.stdin.readline()
log = JobLog.open(sys.argv[1])
for n in range(5):
    made = Entry(id=new_id(1_777_644_180_000 + n, os.urandom(10)), job="job-1", kind="pick",
                 at=utc_text(1_777_644_180_000 + n), joint="k", facts={"pipe.od_in": n})
    assert log.append([made], made.at).stored
log.close()
"""


def test_several_programs_make_the_file_and_save_at_once(tmp_path):
    path = tmp_path / "log.db"
    crowd = [
        subprocess.Popen(
            [sys.executable, "-c", PROGRAM, str(path)],
            stdin=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        for _ in range(PROGRAMS)
    ]
    for each in crowd:
        each.stdin.write("go\n")
        each.stdin.flush()
    for each in crowd:
        _, said = each.communicate(timeout=120)
        assert (each.returncode, said) == (0, "")
    with JobLog.open(path) as log:
        assert log.count() == log.job("job-1").entries == PROGRAMS * 5
        assert log.joint("k").facts == {"pipe.od_in": 4}
