"""A server killed while phones exchange with it: what it acknowledged is there, each thing once."""

from __future__ import annotations

import http.client
import json
import random
import threading
from hashlib import sha256

import pytest
from support.entries import a_job, entry, tables_of
from support.phone_server import PhoneServer
from support.pictures import camera_photo

from fieldkit.joblog import Entry, JobLog
from fieldkit.web.photos import FolderPhotos, plain_photo

KILLS = 100
PHONES = 3

#: A photo goes in parts as small as this, so that kills come between them. [bytes]
PART = 2048


#: What a phone saves before it waits for a server that is not there. [entries]
MOST_UNSENT = 30


class PlainPhone:
    """What ``static/phone/exchange.js`` does, in a thread: send, settle, read on; then again."""

    def __init__(self, number: int, port: int) -> None:
        self.number, self.port = number, port
        self.log = JobLog.memory()
        self.outbox: dict[str, Entry] = {}
        self.photos: dict[str, bytes] = {}
        self.acknowledged: set[str] = set()
        self.cursor = self.made = self.broken = 0
        self.calm = threading.Event()
        self.thread = threading.Thread(target=self.live)

    def live(self) -> None:
        """Save and exchange until all is calm and nothing is left to send."""
        while not self.calm.is_set() or self.outbox or self.photos:
            if not self.calm.is_set() and len(self.outbox) < MOST_UNSENT:
                self.save()
            try:
                self.exchange()
            except (OSError, http.client.HTTPException, ValueError):
                self.broken += 1
                self.calm.wait(0.01)

    def save(self) -> None:
        """A few notes, and now and then a photo."""
        self.made += 1
        at = self.number * 10_000 + self.made
        made = [entry(at, joint="joint-1", note=f"{self.number} {n}") for n in range(3)]
        if self.made % 5 == 1 and self.made < 60:
            picture = plain_photo(camera_photo((90, 60)))
            said = {"digest": sha256(picture).hexdigest(), "bytes": len(picture), "about": ""}
            made.append(entry(at, "photo", joint="joint-1", understood=said))
            self.photos[said["digest"]] = picture
        self.outbox.update({one.id: one for one in made})

    def exchange(self) -> None:
        """One exchange; anything may break off anywhere."""
        line = http.client.HTTPConnection("127.0.0.1", self.port, timeout=10)
        try:
            session, token = self.session(line)
            headers = {"Cookie": session, "X-CSRFToken": token}

            def post(path: str, body: bytes) -> dict:
                line.request("POST", path, body, headers)
                return read(line)

            page = {"entries": [one.as_json() for one in self.outbox.values()]}
            said = post("/phone/send", json.dumps(page).encode())
            assert said["refused"] == []
            self.acknowledged.update(said["kept"])
            for one in said["kept"]:
                self.outbox.pop(one, None)
            for digest, picture in list(self.photos.items()):
                have, whole = 0, False
                part = b""
                while not whole:
                    said = post(f"/phone/photo/{digest}?from={have}", part)
                    have, whole = said["have"], said["whole"]
                    part = picture[have : have + PART]
                self.acknowledged.add(digest)
                del self.photos[digest]
            self.read_on(line)
        finally:
            line.close()

    def session(self, line: http.client.HTTPConnection) -> tuple[str, str]:
        """The cookie and the token to send with."""
        line.request("GET", "/phone/token")
        response = line.getresponse()
        cookie = (response.getheader("Set-Cookie") or "").split(";")[0]
        return cookie, json.loads(response.read())["token"]

    def read_on(self, line: http.client.HTTPConnection) -> None:
        """Read what this phone has not seen, page by page."""
        while True:
            line.request("GET", f"/phone/since?seq={self.cursor}")
            page = read(line)
            entries = [Entry.from_json(one) for one in page["entries"]]
            self.log.append(entries, page["entries"][-1]["at"] if entries else "")
            self.cursor = page["upto"]
            if self.cursor >= page["last"] or not entries:
                return


def read(line: http.client.HTTPConnection) -> dict:
    response = line.getresponse()
    body = json.loads(response.read())
    assert response.status == 200, body
    return body


@pytest.mark.slow
def test_killed_a_hundred_times_during_exchanges_all_is_there_once(tmp_path):
    chance = random.Random(7)  # noqa: S311  -- when to kill, no secret
    path = tmp_path / "log.db"
    with JobLog.open(path) as log:
        log.append(a_job(), "2026-05-01T14:03:00.000Z")
    server = PhoneServer(path)
    phones = [PlainPhone(n, server.port) for n in range(PHONES)]
    try:
        server.start()
        for one in phones:
            one.thread.start()
        calm = threading.Event()
        for _ in range(KILLS):
            calm.wait(chance.uniform(0.02, 0.15))
            server.kill()
            server.start()
        for one in phones:
            one.calm.set()
        for one in phones:
            one.thread.join(60)
            assert not one.thread.is_alive()
    finally:
        for one in phones:
            one.calm.set()
        server.kill()
    assert sum(one.broken for one in phones) > KILLS / 2, "the kills met no exchange"
    with JobLog.open(path) as log:
        kept = [one.entry for one in log.since(0, 1_000_000)]
        photos = FolderPhotos(tmp_path / "log-photos")
        ids = [one.id for one in kept]
        assert (
            len(ids)
            == len(set(ids))
            == 7 + sum(3 * one.made + len(range(1, min(one.made, 59) + 1, 5)) for one in phones)
        )
        for one in phones:
            for name in one.acknowledged:
                assert name in ids or sha256(photos.read(name) or b"").hexdigest() == name
        named = {one.understood["digest"] for one in kept if one.kind == "photo"}
        assert {file.name for file in photos.folder.iterdir()} == {f"{one}.jpg" for one in named}
        before = tables_of(log)
        log.rebuild()
        assert tables_of(log) == before
    for one in phones:
        one.log.close()
