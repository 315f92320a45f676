"""The memory of carrying a whole log out and in: flat, however many entries there are.

``pytest tests/bench/test_bench_carry.py --benchmark-enable -s`` measures with a million entries,
which takes 8 min. Otherwise a few thousand, which must not take more than a few hundred do.
"""

from __future__ import annotations

import subprocess
import sys
import time

import pytest
from bench.test_bench_joblog import fill

from fieldkit.joblog import JobLog

#: The whole program, at its highest moment. [MB]
LIMIT_MB = 200
#: Sixteen times as many entries may take so much more. [MB]
MORE_MB = 25

_RUN = """
import re, sys
from pathlib import Path
from fieldkit.cli.main import main
main(sys.argv[1:], standalone_mode=False)
print(int(re.search(r"VmHWM:\\s+(\\d+)", Path("/proc/self/status").read_text())[1]) // 1024)
"""


def highest_mb(*command: object) -> int:
    """The most memory that a command takes. [MB]"""
    began = time.perf_counter()
    program = [sys.executable, "-c", _RUN, *map(str, command)]
    done = subprocess.run(program, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr[-2000:]
    *said, mb = done.stdout.splitlines()
    print(f"\n{command[0]}: {mb} MB, {time.perf_counter() - began:.0f} s. {' '.join(said)[:200]}")  # noqa: T201
    return int(mb)


def out_and_in(folder, db, count: int, *form: str) -> tuple[int, int]:
    """What taking a log out and into an empty one takes. [MB]"""
    carried, other = folder / f"{count}.file", folder / f"{count}.db"
    out = highest_mb("export", "--all", *form, "-o", carried, "--db", db)
    into = highest_mb("import", carried, "--db", other)
    with JobLog.open(db) as one, JobLog.open(other) as two:
        assert one.count() == two.count() == count
    return out, into


def test_carrying_a_log_takes_no_more_memory_however_long_it_is(tmp_path):
    taken = {}
    for jobs, form in ((1, ()), (16, ()), (17, ("--csv",))):
        with JobLog.open(tmp_path / f"{jobs}.log.db") as log:
            fill(log, jobs, 250)
        taken[jobs] = out_and_in(tmp_path, tmp_path / f"{jobs}.log.db", jobs * 250, *form)
    for few, *many in zip(*taken.values(), strict=True):
        assert max(many) < min(few + MORE_MB, LIMIT_MB), taken


def test_a_million_entries_are_carried(tmp_path, large, measuring):
    if not measuring:
        pytest.skip("8 min: with --benchmark-enable")
    assert max(out_and_in(tmp_path, large, 1_000_000)) < LIMIT_MB
