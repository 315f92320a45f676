"""The real server under harm: killed while it saves, and asked by twenty people at once."""

from __future__ import annotations

import os
import random
import re
import signal
import sqlite3
import subprocess
import sys
import threading
import urllib.error
import urllib.parse
import urllib.request
from contextlib import closing
from http.cookiejar import CookieJar

import pytest

from fieldkit.joblog import new_id

SAVES, CLIENTS, EACH, KILLS = 200, 20, 5, 3
START_MS = 1_777_644_180_000


class Browser:
    """The least of a browser: cookies, a token, and forms that are sent."""

    def __init__(self, address: str) -> None:
        self.address = address
        jar = urllib.request.HTTPCookieProcessor(CookieJar())
        self.opener = urllib.request.build_opener(jar)
        self.token = ""

    def read(self, path: str) -> str:
        """A page; its token is kept."""
        with self.opener.open(self.address + path, timeout=20) as page:
            text = page.read().decode()
        self.token = re.search(r'name="csrf_token" value="([^"]+)"', text)[1]
        return text

    def send(self, path: str, **fields: str) -> int:
        """Send a form; the status that it was answered with in the end."""
        body = urllib.parse.urlencode({"csrf_token": self.token, **fields}).encode()
        with self.opener.open(self.address + path, data=body, timeout=60) as answer:
            return answer.status


def start(path) -> tuple[subprocess.Popen[str], str]:
    """``fieldkit serve`` on the log at ``path``, and where it answers."""
    process = subprocess.Popen(
        [sys.executable, "-m", "fieldkit.cli.main", "serve", "--port", "0", "--db", str(path)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    for line in process.stdout:
        if found := re.search(r"Open (http://\S+:\d+)", line):
            return process, found[1]
    raise AssertionError(process.stderr.read())


def kept_ids(path) -> list[str]:
    """The ids of all entries in the file, which must be whole."""
    with closing(sqlite3.connect(path)) as conn:
        assert conn.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        return [row[0] for row in conn.execute("SELECT id FROM entries")]


def an_id(n: int) -> str:
    """The ``n``-th id of a run of saves."""
    return new_id(START_MS + n, os.urandom(10))


@pytest.fixture(autouse=True)
def home(tmp_path, monkeypatch):
    """A data folder of its own."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))


def test_every_answered_save_survives_kills(tmp_path):
    """200 saves; the server is killed without warning while it saves, and started again."""
    chance = random.Random(2)  # noqa: S311  -- when to kill, no secret
    path = tmp_path / "log.db"
    answered: list[str] = []
    kills, sent = 0, 0
    job = an_id(0)
    while sent < SAVES:
        process, address = start(path)
        browser = Browser(address)
        browser.read("/jobs")
        if sent == 0:
            assert browser.send("/jobs", name="Long Meadow", entry=job) == 200
            answered.append(job)
        killer = threading.Timer(chance.uniform(0.5, 1.2), os.kill, (process.pid, signal.SIGKILL))
        if kills < KILLS:
            killer.start()
        try:
            while sent < SAVES:
                sent += 1
                entry = an_id(sent)
                browser.send(f"/job/{job}/notes", note=f"save {sent}", entry=entry)
                answered.append(entry)
        except (urllib.error.URLError, ConnectionError):
            kills += 1
        killer.cancel()
        process.kill()
        process.communicate(timeout=20)
    kept = kept_ids(path)
    assert kills > 0
    assert len(answered) > SAVES - 1 - KILLS
    assert set(answered) <= set(kept)
    assert len(kept) == len(set(kept))


def test_twenty_clients_save_at_once(tmp_path):
    path = tmp_path / "log.db"
    process, address = start(path)
    job = an_id(0)
    first = Browser(address)
    first.read("/jobs")
    first.send("/jobs", name="Long Meadow", entry=job)
    faults: list[str] = []
    answered: list[str] = []
    together = threading.Barrier(CLIENTS)

    def save(client: int) -> None:
        browser = Browser(address)
        browser.read("/jobs")
        together.wait()
        for n in range(EACH):
            entry = an_id(1000 * (client + 1) + n)
            try:
                for _ in range(1 + n % 2):  # each second one is sent twice
                    browser.send(f"/job/{job}/notes", note=f"{client}: {n}", entry=entry)
            except (urllib.error.URLError, ConnectionError) as error:
                faults.append(f"client {client}, save {n}: {error}")
            else:
                answered.append(entry)

    threads = [threading.Thread(target=save, args=(client,)) for client in range(CLIENTS)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    process.terminate()
    _, complaints = process.communicate(timeout=20)
    assert not faults
    assert "locked" not in complaints
    assert sorted(kept_ids(path)) == sorted([job, *answered])
    assert len(answered) == CLIENTS * EACH
