"""The program as it runs inside the phone's browser: a request in, an answer and entries out.

The worker's script makes one ``Engine`` and hands it plain values. What the engine gives back is
plain too, so nothing of the browser is held here, and the same code runs in a test without one.
"""

from __future__ import annotations

import json
import random
import re
from collections.abc import Mapping, Sequence
from itertools import zip_longest
from typing import NamedTuple
from urllib.parse import urlsplit

from werkzeug.test import Client

from fieldkit.flows.catalogue import flows
from fieldkit.flows.reference import SHEETS
from fieldkit.joblog import Entry, JobLog
from fieldkit.joblog.arrival import Head
from fieldkit.joblog.entry import json_text
from fieldkit.joblog.exchange import entries_of, photos_named
from fieldkit.joblog.marks import is_told, read_marks
from fieldkit.joblog.people import Person
from fieldkit.phone.pages import phone_app
from fieldkit.phone.photos import PhonePhotos
from fieldkit.web import clock
from fieldkit.web.create import loose_job
from fieldkit.web.localize import LANGUAGE_COOKIE, UNITS_COOKIE
from fieldkit.web.look import LIGHT_COOKIE

#: Entries that are taken in at a time. [entries]
_LOT = 500


#: Files to hand over that hold a job's photos.
_WITH_PHOTOS = re.compile(r"/job/([^/?]+)/(?:export\.json|record\.html)(?:\?|$)")


#: What a person chose for every page of this phone.
_KEPT_COOKIES = (LIGHT_COOKIE, LANGUAGE_COOKIE, UNITS_COOKIE)


class Answered(NamedTuple):
    """What became of a request.

    ``entries`` are the JSON of those it added to the log, ``photos`` those it took: digest, bytes.
    """

    status: int
    headers: list[list[str]]
    body: bytes
    entries: list[str]
    photos: list[tuple[str, bytes]]


#: Pages that are made once before anything is asked, so that the first person does not wait for
#: templates and tables to be read.
_WARM_PAGES = ("/", "/jobs", "/tables", "/sources", "/prices", "/phone")


class Engine:
    """The application on a phone.

    It is made without a file and without a secret, so that a copy of the memory taken then holds
    nothing of anybody. ``start`` gives it both.
    """

    def __init__(self) -> None:
        self._app = phone_app()
        # No other site reaches this worker: what it is asked comes from its own pages.
        self._app.config["WTF_CSRF_ENABLED"] = False
        flows()
        client = Client(self._app)  # Flask's own would bring a debugger along
        for path in (*_WARM_PAGES, *(f"/tables/{one}" for one in SHEETS)):
            client.get(path)
        self._log: JobLog = self._app.extensions["joblog"]
        self._log.close()
        self._photos: PhonePhotos = self._app.extensions["photos"]

    def start(
        self,
        db_path: str,
        secret: str,
        base: str,
        cookies: Mapping[str, str] | None = None,
        *,
        who: str = "",
        company: str = "",
    ) -> None:
        """Open the phone's copy of the log and be ready to answer.

        Parameters
        ----------
        db_path : str
            It is made when it is not there, and can always be made again.
        secret : str
            Made on this phone; the server's never comes here.
        base : str
            Where the site begins: ``https://box.example/`` or ``https://x.example/kit/``.
        cookies : mapping
            Those kept from the last time.
        who : str
            The person who took this phone to the field, as the server knows them.
        company : str
            Whose log the phone was taken along from; empty without a server.
        """
        random.seed()  # in a started copy of memory, chance would else repeat itself
        self._log.close()
        # A browser cannot share memory between programs, which the write-ahead log needs.
        self._log = JobLog.open(db_path, wal=False)
        self._app.extensions["joblog"] = self._log
        self._app.config.update(
            SECRET_KEY=secret,
            LOOSE_JOB=loose_job(secret),
            OWNER=Person("", who, "lead"),
            COMPANY=company,
        )
        self._photos.taken_along(from_server=bool(company))
        where = urlsplit(base)
        self._base = base
        self._prefix = where.path.rstrip("/")
        self._host = where.hostname or ""
        self._client = Client(self._app)
        for name, value in (cookies or {}).items():
            self._client.set_cookie(name, value, domain=self._host)
        self._seen = self._last_seq()

    def _last_seq(self) -> int:
        with self._log.reading() as conn:
            found: int = conn.execute("SELECT coalesce(max(seq), 0) FROM entries").fetchone()[0]
        return found

    def answer(self, method: str, path: str, headers: Mapping[str, str], body: bytes) -> Answered:
        """Answer one request, as the server would.

        Parameters
        ----------
        method, path : str
            ``path`` begins with ``/`` below ``base`` and may have a query.
        headers : mapping
            ``Content-Type``, ``Accept`` and ``Accept-Language``, where there are any.
        body : bytes
            Empty when there is none.
        """
        response = self._client.open(
            path, method=method, base_url=self._base, headers=dict(headers), data=body
        )
        kept = [
            [name, value]
            for name, value in response.headers.items()
            if name.lower() not in {"set-cookie", "content-length"}
        ]
        for header in kept:
            if header[0] == "Location":
                header[1] = self._under_base(header[1])
        answered = Answered(
            response.status_code,
            kept,
            response.get_data(),
            [] if method == "GET" else self._new(),
            list(self._photos.taken.items()),
        )
        response.close()
        self._photos.lend({})
        return answered

    def wanted(self, method: str, path: str) -> list[str]:
        """The digests of the photos that the answer to a request will hold whole."""
        found = _WITH_PHOTOS.match(path) if method == "GET" else None
        return photos_named(entries_of(self._log, found[1])) if found else []

    def lend(self, photos: Mapping[str, bytes]) -> None:
        """Hand in photos for the request that is answered next."""
        self._photos.lend(photos)

    def photos_here(self, digests: Sequence[str]) -> None:
        """Say which photos the phone keeps."""
        self._photos.now_here(frozenset(digests))

    def server_said(self, ahead_ms: int, size: int, root: str, left: str = "") -> None:
        """Say what is known from the server.

        Parameters
        ----------
        ahead_ms : int
            How far this phone's clock is ahead of the server's.
        size, root : int, str
            The head of the server's log.
        left : str
            JSON of what stays on the server (``exchange.for_the_field``): ``left`` and ``found``.
        """
        clock.set_right(int(ahead_ms))
        self._app.config["HEAD"] = Head(int(size), root) if size else None
        said = json.loads(left or "{}")
        self._app.config["LEFT_ON_SERVER"] = said.get("left", 0)
        self._log.found_elsewhere = tuple(map(tuple, said.get("found", ())))

    def _under_base(self, location: str) -> str:
        """An address of this site as it is written where the site begins below a host's root."""
        if location.startswith("/") and not f"{location}/".startswith(f"{self._prefix}/"):
            return self._prefix + location
        return location

    def _new(self) -> list[str]:
        """The entries added since the last look."""
        found: list[str] = []
        while page := self._log.since(self._seen, _LOT):
            self._seen = page[-1].seq
            found.extend(json_text(one.entry.as_json()) for one in page)
        return found

    def take_in(self, entries: Sequence[str], arrived: Sequence[str | None] = ()) -> int:
        """Add entries that this phone has kept or was sent; returns how many were new here.

        One that this version of the program cannot understand is passed over: the phone keeps
        it all the same, for a later version. ``arrived`` says when the server got each; what it
        says nothing of was made here.
        """
        read, times, told = [], [], []
        for text, received in zip_longest(entries, arrived):
            try:
                body = json.loads(text)
                if is_told(body):
                    told.append(body)
                else:
                    read.append(Entry.from_json(body))
                    times.append(received or read[-1].at)
            except (ValueError, TypeError, RecursionError):
                continue
        done = self._log.append(read, times)
        self._log.mark(read_marks(told))
        self._seen = self._last_seq()
        return len(done.stored)

    def cookies(self) -> dict[str, str]:
        """The cookies to keep for the next time."""
        found = {
            name: self._client.get_cookie(name, domain=self._host)
            for name in (*_KEPT_COOKIES, self._app.config["SESSION_COOKIE_NAME"])
        }
        return {name: one.value for name, one in found.items() if one is not None}

    def count(self) -> int:
        """How many entries the phone's copy holds."""
        return self._log.count()

    def close(self) -> None:
        """Close the file."""
        self._log.close()
