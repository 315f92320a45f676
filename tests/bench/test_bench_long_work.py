"""Long work on a job of 600 joints and 40,000 entries, and what others wait meanwhile.

``pytest tests/bench/test_bench_long_work.py --benchmark-enable -s`` measures, and holds the limit.
Otherwise one page of a smaller job is made, and others must be answered meanwhile.
"""

from __future__ import annotations

import os
import threading
import time
from contextlib import closing
from dataclasses import replace

import pytest
from support.many_clients import Client, Seen, fresh_id
from web.test_serving import start

from fieldkit.cli.demo import load_demo
from fieldkit.joblog import JobLog, exchange

#: 95 of 100 requests of others are answered within this while long work is done. [s]
LIMIT_S = 0.250

JOINTS, ENTRIES = 600, 40_000


def large_job(log: JobLog, joints: int, entries: int) -> str:
    """A job whose joints are all like the one of the invented jobs that has the most entries."""
    load_demo(log)
    like = max((k for job in log.jobs() for k in log.joints(job.id)), key=lambda k: k.entries)
    made = [one.entry for one in reversed(log.history(joint_id=like.id, limit=10_000))]
    made = [one for one in made if one.kind != "photo"]
    opened = replace(log.entry(like.job).entry, id=fresh_id())
    job = opened.id
    log.append([replace(opened, job=job, understood={"name": "Long Meadow"})], opened.at)
    count = 1
    for n in range(joints):
        joint, ids, runs = fresh_id(), {}, {}
        lot = []
        for one in made[: -(-(entries - count) // (joints - n))]:
            ids[one.id] = joint if one.kind == "joint" else fresh_id()
            run = runs.setdefault(one.run, fresh_id()) if one.run else ""
            said = {"name": f"Box {n + 1}"} if one.kind == "joint" else one.understood
            lot.append(
                replace(one, id=ids[one.id], job=job, joint=joint, run=run, understood=said,
                        replaces=ids.get(one.replaces, ""))
            )  # fmt: skip
        while len(lot) < (entries - count) // (joints - n):
            lot.append(replace(lot[0], id=fresh_id(), kind="note", understood=None, facts={},
                               note=f"Looked at again, number {len(lot)}."))  # fmt: skip
        assert not log.append(lot, opened.at).refused
        count += len(lot)
    return job


def done_beside(client: Client, where: str) -> tuple[float, str]:
    """How long a piece of work took until its page was there, and that page."""
    began = time.perf_counter()
    while True:
        status, page = client.ask(where)
        assert status == 200, page
        if "looks again by itself" not in page:
            return time.perf_counter() - began, page
        time.sleep(0.3)


def others(address: str, over: threading.Event, seen: Seen, job: str) -> list[threading.Thread]:
    """Four people who go on meanwhile: they read, and write a note."""

    def play() -> None:
        client = Client(address)
        while not over.wait(0.05):
            for path in ("/", "/jobs", f"/job/{job}"):
                began = time.perf_counter()
                status, said = client.ask(path)
                seen.note("read", time.perf_counter() - began)
                assert status == 200, said
            fields = {"entry": fresh_id(), "note": "Seen."}
            began = time.perf_counter()
            status, said = client.ask(f"/job/{job}/notes", fields)
            seen.note("save", time.perf_counter() - began)
            assert status == 303, said
        client.conn.close()

    threads = [threading.Thread(target=play, daemon=True) for _ in range(4)]
    for thread in threads:
        thread.start()
    return threads


@pytest.fixture
def serving(tmp_path, monkeypatch, measuring):
    """``fieldkit serve``, the large job, and a small one."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    with JobLog.open(tmp_path / "log.db") as log:
        size = (JOINTS, ENTRIES) if measuring else (20, 3_001)
        job = large_job(log, *size)
        small = next(one.id for one in log.jobs() if one.id != job)
        assert (log.job(job).joints, log.job(job).entries) == size
        lines = exchange.json_lines(
            (replace(one, id=fresh_id(), job="other", joint="", note="x", kind="note", run="",
                     typed={}, understood=None, result=None, facts={}, replaces="", flow="",
                     step="") for one in exchange.entries_of(log, job)),
            log.company,
        )  # fmt: skip
        (tmp_path / "more.json").write_text("".join(lines))
    process, address = start(tmp_path / "log.db")
    yield address, job, small, tmp_path / "more.json"
    process.terminate()
    process.communicate(timeout=60)


def test_others_are_answered_while_long_work_is_done(serving, measuring, capsys):
    address, job, small, file = serving
    client = Client(address)
    client.ask("/jobs")
    late: dict[str, float] = {}
    with closing(client.conn), capsys.disabled():
        for what in ("nothing", *WORKS) if measuring else ("sign page",):
            seen, over = Seen(), threading.Event()
            threads = others(address, over, seen, small)
            took, page = 8.0, ""
            if what == "nothing":
                over.wait(took)
            else:
                status, where = WORKS[what](client, job, file)
                assert status == 303, where
                took, page = done_beside(client, where)
            over.set()
            for thread in threads:
                thread.join(60)
            assert not seen.faults
            assert "Something went wrong" not in page
            assert 'class="wrong"' not in page, page
            assert seen.seconds["save"] or not measuring
            if measuring:
                size = f", {len(page) / 1e6:.1f} MB" if len(page) > 100_000 else ""
                load = os.getloadavg()[0]
                print(f"\n{what}: {took:.1f} s{size}, load {load:.1f}; others meanwhile:")  # noqa: T201
                print(f"95 % within {seen.percentile(0.95) * 1e3:.0f} ms; {seen.told()}")  # noqa: T201
                late |= {what: seen.percentile(0.95)}
    # On a machine that is busy with other things, beside what it takes with no work at all.
    most = max(LIMIT_S, 2.5 * late.pop("nothing", 0.0))
    assert all(one < most for one in late.values()), late


def sent(client: Client, job: str, _file) -> tuple[int, str]:
    """The form of the page to sign, each point that is missing waived."""
    status, where = client.ask(f"/job/{job}/sign")
    assert status == 303
    _, page = done_beside(client, where)
    fields = {"name": "Ann", "entry": fresh_id(), "seen": page.split('name="seen" value="')[1]}
    fields["seen"] = fields["seen"].split('"')[0]
    for part in page.split('name="waive-')[1:]:
        fields["waive-" + part.split('"')[0]] = "Looked at on site"
    return client.ask(f"/job/{job}/sign", fields)


def brought(client: Client, _job: str, file) -> tuple[int, str]:
    """A file of as many entries."""
    edge = "edge-of-a-part"
    text = (
        f'--{edge}\r\nContent-Disposition: form-data; name="csrf_token"\r\n\r\n{client.token}\r\n'
        f'--{edge}\r\nContent-Disposition: form-data; name="file"; filename="x.json"\r\n'
        f"Content-Type: application/json\r\n\r\n{file.read_text()}\r\n--{edge}--\r\n"
    )
    headers = {
        "Cookie": "; ".join(f"{name}={kept}" for name, kept in client.cookies.items()),
        "Content-Type": f"multipart/form-data; boundary={edge}",
    }
    client.conn.request("POST", "/jobs/import", text.encode(), headers)
    answer = client.conn.getresponse()
    body = answer.read().decode()
    return answer.status, answer.getheader("Location") or body


def page(path: str):
    """Ask for a page or file of the job."""
    return lambda client, job, _file: client.ask(f"/job/{job}/{path}")


WORKS = {
    "sign page": page("sign"),
    "signing": sent,
    "record": page("record"),
    "record as PDF": page("record.letter.pdf"),
    "labels": page("labels"),
    "export": page("export.json"),
    "import": brought,
    "backup": lambda client, _job, _file: client.ask("/backup", {}),
}
