"""How long a save takes beside a bare insert, and a job's page as the log grows.

``pytest tests/bench --benchmark-enable`` measures, and holds the limits. Otherwise the same code
runs once, on a small log.
"""

from __future__ import annotations

import os
import sqlite3
import time
from contextlib import closing
from dataclasses import replace
from shutil import copyfile
from statistics import median

from support.entries import NOW, START_MS, entry

from fieldkit.app import make_app
from fieldkit.joblog import JobLog, utc_text
from fieldkit.joblog.append import _INSERT
from fieldkit.joblog.entry import COLUMNS, row_of

#: A save may cost this much of a bare insert of the same row, just as durable.
SAVE_LIMIT = 1.5
#: A job's page at a million entries may cost this much of the same page at a thousand.
PAGE_LIMIT = 1.3
#: The lead's page over all joints of a million entries. [s]
CREW_LIMIT_S = 0.5

JOINTS, PER_JOINT = 20, 50
PER_JOB = JOINTS * PER_JOINT


def an_answer(n: int, job: str = "job-1"):
    """An answer as a page saves it; each twentieth entry of a joint is a result with facts."""
    where = {"job": job, "joint": f"{job}.{n // PER_JOINT % JOINTS}", "run": f"{job}.r{n // 10}"}
    if n % 20 == 19:
        return entry(
            n,
            "result",
            **where,
            flow="measure-pipe",
            result={"verdict": "decided", "headline": "It is ½ in. pipe.", "own": "x" * 800},
            facts={"pipe.od_in": 0.84, "pipe.nominal": "1/2"},
        )
    return entry(
        n,
        "answer",
        **where,
        flow="measure-pipe",
        step=f"s{n % 10}",
        typed={"value": ["13/16 in"]},
        understood=0.8125,
        who="Ann",
        device="phone 2",
    )


def bare_table(path):
    """The same columns and nothing else, as durable as ours."""
    conn = sqlite3.connect(path, isolation_level=None)
    conn.execute("PRAGMA journal_mode=WAL")
    conn.execute("PRAGMA synchronous=FULL")
    columns = ", ".join(f"{name} TEXT" for name in COLUMNS)
    conn.execute(f"CREATE TABLE entries (seq INTEGER PRIMARY KEY, {columns}, received TEXT)")
    conn.execute("CREATE UNIQUE INDEX by_id ON entries (id)")
    return conn


def test_a_save_costs_little_more_than_a_bare_insert(tmp_path, measuring):
    """Taken in turns, so that a slow moment of the disk falls on both."""
    ratios = []
    for turn in range(5 if measuring else 1):
        with (
            JobLog.open(tmp_path / f"log-{turn}.db") as log,
            closing(bare_table(tmp_path / f"bare-{turn}.db")) as bare,
        ):
            ours, theirs = [], []
            count = 400 if measuring else 20
            for n in range(count):
                made = an_answer(n)
                row = (*row_of(made), NOW)
                begun = time.perf_counter()
                log.append([made], NOW)
                ours.append(time.perf_counter() - begun)
                begun = time.perf_counter()
                bare.execute("BEGIN IMMEDIATE")
                bare.execute(_INSERT, row)
                bare.execute("COMMIT")
                theirs.append(time.perf_counter() - begun)
            assert log.count() == count
        ratios.append(median(ours) / median(theirs))
    print(f"\nsave / bare insert: {', '.join(f'{ratio:.2f}' for ratio in ratios)}")  # noqa: T201
    if measuring:
        assert median(ratios) <= SAVE_LIMIT


def entries_of(job: int, count: int):
    """A job's entries: its name, its joints, every second of which cures, and answers; a job a
    third of a day, a thousand of them in the past: no rule takes what lies ahead."""
    at = utc_text(START_MS - (1000 - job) * 8 * 3600 * 1000)
    name = f"job-{job}"
    made = [entry(kind="job", job=name, understood={"name": f"Meadow {job}"})]
    joints = min(JOINTS, count // 2)
    for n in range(joints):
        where = {"job": name, "joint": f"{name}.{n}"}
        made.append(entry(kind="joint", **where, understood={"name": f"Box {n}"}))
        if n % 2:
            cured = {"verdict": "wait", "headline": "Let it cure."}
            facts = {"weld.ready_at": at}
            made.append(
                entry(kind="result", **where, flow="join-cement", result=cured, facts=facts)
            )
    made += [an_answer(n, name) for n in range(count - len(made))]
    return [replace(one, at=at) for one in made[:count]]


def fill(log: JobLog, jobs: int, per_job: int = PER_JOB, first: int = 0) -> None:
    """Many jobs, each as one lot that arrives."""
    for job in range(first, first + jobs):
        assert not log.append(entries_of(job, per_job), NOW).refused


def seconds_a_page(clients, paths, rounds: int):
    """Of each client the median work of its page, taken in turns: CPU, whatever else runs. [s]"""
    times = [[] for _ in clients]
    for _ in range(rounds):
        for client, path, taken in zip(clients, paths, times, strict=True):
            begun = time.thread_time()
            assert client.get(path).status_code == 200
            taken.append(time.thread_time() - begun)
    return [median(taken) for taken in times]


#: Pages that may not grow with the log. A small log holds as much as one page shows: fifty jobs,
#: or one with nearly as many results.
FLAT = [
    "/", "/jobs", "/jobs?finished=1", "/diagnoses", "/jobs?q=meadow", "/jobs?q=in",
    "/jobs?q=1", "/jobs?q=box+1", "/jobs?q=it+is+pipe", "/jobs?q=zebra", "/job/job-0",
]  # fmt: skip


def test_pages_cost_the_same_at_a_million_entries(tmp_path, measuring, large):
    """``/jobs``, search, home, the diagnoses and a job, beside a log of a thousand entries."""
    clients, logs = {}, []
    for name, (count, per_job) in {"lists": (50, 20), "job": (1, PER_JOB), "large": (0, 0)}.items():
        app = make_app(large if name == "large" else tmp_path / f"{name}.db", testing=True)
        logs.append(app.extensions["joblog"])
        # The same fifty jobs are listed first: those of the last days, with cement that cures.
        fill(logs[-1], count, per_job, 950 if name == "lists" else 0)
        clients[name] = app.test_client()
    ratios = {}
    for path in FLAT:
        small = clients["job" if path.startswith("/job/") or "pipe" in path else "lists"]
        seconds_a_page((small, clients["large"]), (path, path), 2)
        took = seconds_a_page((small, clients["large"]), (path, path), 41 if measuring else 1)
        ratios[path] = took[1] / took[0]
        print(f"\n{path:22} {took[0] * 1e3:7.2f} ms {took[1] * 1e3:7.2f} ms {ratios[path]:.2f}",  # noqa: T201
              end="")  # fmt: skip
    print(f"\n{logs[-1].count():,} entries, load {os.getloadavg()[0]:.1f}")  # noqa: T201
    crew = "/crew?period=all"  # reads a small row of every joint there is
    (took,) = seconds_a_page((clients["large"],), (crew,), 11 if measuring else 1)
    print(f"\n{crew:22} {took * 1e3:.0f} ms")  # noqa: T201
    for log in logs:
        log.close()
    if measuring:
        assert max(ratios.values()) <= PAGE_LIMIT, ratios
        assert took <= CREW_LIMIT_S


def page_of(log: JobLog, job: str) -> None:
    """All that a job's page reads."""
    assert log.job(job).joints == len(log.joints(job)) > 0
    assert len(log.history(job_id=job, limit=20)) == 20


def test_a_job_page_costs_the_same_at_a_million_entries(tmp_path, measuring, large):
    """The log alone, without a page around it; and a save into a copy of the large one."""
    copied = tmp_path / "large.db"
    copyfile(large, copied)
    with JobLog.open(tmp_path / "small.db") as small, JobLog.open(copied) as big:
        fill(small, 1)
        jobs = big.count() // PER_JOB
        small_times, large_times, saves = [], [], []
        for n in range(600 if measuring else 10):
            job = f"job-{n * 7919 % jobs}"
            for log, times, asked in ((small, small_times, "job-0"), (big, large_times, job)):
                begun = time.perf_counter()
                page_of(log, asked)
                times.append(time.perf_counter() - begun)
        for n in range(300 if measuring else 10):
            begun = time.perf_counter()
            big.append([entry(n, job="job-4", joint="job-4.1")], NOW)
            saves.append(time.perf_counter() - begun)
        begun = time.perf_counter()
        assert len(big.search("½ pipe", limit=20)) == 20
        found = time.perf_counter() - begun
        begun = time.perf_counter()
        assert len(big.jobs(limit=50)) == min(50, jobs)
        listed = time.perf_counter() - begun
        count = big.count()
    ratio = median(large_times) / median(small_times)
    print(  # noqa: T201
        f"\njob page {median(small_times) * 1e3:.2f} ms at 1,000 entries,"
        f" {median(large_times) * 1e3:.2f} ms at {count:,}: {ratio:.2f};"
        f" save {median(saves) * 1e3:.2f} ms, search {found * 1e3:.1f} ms,"
        f" list of jobs {listed * 1e3:.1f} ms"
    )
    if measuring:
        assert ratio <= PAGE_LIMIT


def test_one_save(benchmark, tmp_path):
    with JobLog.open(tmp_path / "log.db") as log:
        numbers = iter(range(10**9))
        benchmark(lambda: log.append([an_answer(next(numbers))], NOW))


def test_one_job_page(benchmark, tmp_path):
    with JobLog.open(tmp_path / "log.db") as log:
        fill(log, 1)
        benchmark(page_of, log, "job-0")
