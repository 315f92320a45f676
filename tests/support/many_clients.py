"""Many clients at once against a real server: each reads and saves, and keeps its times."""

from __future__ import annotations

import http.client
import os
import re
import sys
import threading
import time
import urllib.parse
from dataclasses import dataclass, field
from statistics import median
from urllib.parse import urlsplit

from fieldkit.joblog import new_id

_TOKEN = re.compile(rb'name="csrf_token" value="([^"]+)"')


def fresh_id() -> str:
    """The id of an entry, made now, as a page makes it."""
    return new_id(time.time_ns() // 1_000_000, os.urandom(10))


class Client:
    """One browser: a connection that is kept, a session, a token; redirects are not followed."""

    def __init__(self, address: str) -> None:
        self.conn = http.client.HTTPConnection(urlsplit(address).netloc, timeout=60)
        self.conn.connect()
        self.cookies: dict[str, str] = {}
        self.token = ""

    def send(self, method: str, path: str, body: bytes | None = None, **headers: str):
        """A request; its status, the headers and all of the answer."""
        kept = "; ".join(f"{name}={value}" for name, value in self.cookies.items())
        self.conn.request(method, path, body, {"Cookie": kept, **headers})
        answer = self.conn.getresponse()
        data = answer.read()
        for sent in answer.msg.get_all("Set-Cookie", []):
            name, _, value = sent.split(";", 1)[0].partition("=")
            self.cookies[name] = value
        if found := _TOKEN.search(data):
            self.token = found[1].decode()
        return answer.status, answer.msg, data

    def ask(self, path: str, fields: dict[str, str] | None = None) -> tuple[int, str]:
        """Read a page, or send a form; its status, and the page or where to go next."""
        if fields is None:
            status, head, data = self.send("GET", path)
        else:
            body = urllib.parse.urlencode({"csrf_token": self.token, **fields}).encode()
            kind = {"Content-Type": "application/x-www-form-urlencoded"}
            status, head, data = self.send("POST", path, body, **kind)
        return status, head.get("Location") or data.decode()

    def opened(self, path: str, **fields: str) -> str:
        """Send a form that opens something; the last part of where it leads."""
        status, where = self.ask(path, {"entry": fresh_id(), **fields})
        assert status == 303, (path, status)
        return where.rsplit("/", 1)[-1]


@dataclass
class Seen:
    """What the clients saw: seconds of each request by what it was, faults, ids acknowledged."""

    seconds: dict[str, list[float]] = field(default_factory=dict)
    faults: list[str] = field(default_factory=list)
    saved: list[str] = field(default_factory=list)

    def note(self, what: str, took: float) -> None:
        """Keep one time."""
        self.seconds.setdefault(what, []).append(took)

    def told(self) -> str:
        """The figures in one line a kind."""
        lines = [f"{what}: {_figures(times)}" for what, times in sorted(self.seconds.items())]
        every = [one for times in self.seconds.values() for one in times]
        return "\n".join([f"all: {_figures(every)}", *lines])

    def percentile(self, share: float) -> float:
        """The time that this share of all requests stays under. [s]"""
        every = sorted(one for times in self.seconds.values() for one in times)
        return every[min(len(every) - 1, int(len(every) * share))]


def _figures(times: list[float]) -> str:
    ordered = sorted(times)
    last = ordered[min(len(ordered) - 1, int(len(ordered) * 0.99))]
    return (
        f"{len(times)} requests, median {median(times) * 1e3:.0f} ms,"
        f" 99 % within {last * 1e3:.0f} ms, slowest {ordered[-1] * 1e3:.0f} ms"
    )


def together(address: str, clients: int, seconds: float, one_round) -> Seen:
    """Let ``clients`` play ``one_round(client, seen)`` again and again, all at once."""
    seen = Seen()
    begin, over = threading.Barrier(clients), threading.Event()
    places = iter(range(clients))

    def play() -> None:
        client = Client(address)
        begin.wait()
        try:
            # One after another, so that not all of them ask for the same page at the same time.
            over.wait(next(places) / clients)
            while not over.is_set():
                one_round(client, seen)
        except (OSError, http.client.HTTPException, AssertionError) as error:
            seen.faults.append(repr(error))
        finally:
            client.conn.close()

    threads = [threading.Thread(target=play, daemon=True) for _ in range(clients)]
    # An answer that has come is to be noticed at once: waiting for another client's turn here
    # would count as waiting for the server.
    before = sys.getswitchinterval()
    sys.setswitchinterval(0.0001)
    try:
        for thread in threads:
            thread.start()
        over.wait(seconds)
        over.set()
        for thread in threads:
            thread.join(timeout=90)
    finally:
        sys.setswitchinterval(before)
    return seen
