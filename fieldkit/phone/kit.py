"""The kit: all that a phone fetches to work without signal, part by part, with its version.

The version is a digest of the contents, so it changes when anything in the kit does, and only
then. A part is fetched packed, checked by its digest, and kept under its own address.
"""

from __future__ import annotations

import base64
import hashlib
import json
import re
import threading
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from functools import cached_property
from mimetypes import guess_type
from pathlib import Path
from typing import Any

from flask import Flask

from fieldkit.flows.reference import SHEETS
from fieldkit.phone import runtime
from fieldkit.phone.compiled import compiled
from fieldkit.phone.pack import build_pack, library
from fieldkit.phone.pages import phone_app
from fieldkit.phone.runtime import Packed, packed_once
from fieldkit.web.create import shared_folder
from fieldkit.web.headers import HEADERS
from fieldkit.web.localize import LANGUAGES
from fieldkit.web.pages.face import WEIGHTS
from fieldkit.web.sending import without_comments

#: What a phone's scripts and a server understand of each other. It goes up only when an older
#: phone could not go on.
PROTOCOL = 1

#: How long a phone may take to start the engine before it is told to do without. [s]
START_SECONDS = 45

#: The file of the runtime that holds the standard library.
LIBRARY = "python_stdlib.zip"

#: The one form of a plain page, the choice of light: it needs somebody to answer it.
_FORM = re.compile(r'<form method="post".*?</form>\n?', re.DOTALL)


@dataclass(frozen=True, slots=True)
class Part:
    """One thing to fetch.

    Parameters
    ----------
    place : str
        The address below the site's base where the phone keeps it. It is fetched, packed by
        gzip, from the same address with ``.gz`` behind it.
    size : int
        What goes over the air. [bytes]
    sha256 : str
        Of the part itself, unpacked.
    type : str
        Its media type.
    """

    place: str
    size: int
    sha256: str
    type: str


#: Where the face of type lies, as the style sheet names it.
FACES = tuple(f"static/face/{weight}.woff" for weight in WEIGHTS)


def plain_paths() -> tuple[str, ...]:
    """The pages that a phone keeps as they are, for when no engine can answer."""
    sheets = (f"/tables/{one}" for one in SHEETS)
    return ("/phone", "/phone/shell", "/tables", *sheets, "/paper", "/ruler", "/gauge", "/sources")


class Kit:
    """The parts as this copy of the program would send them, built once, when first asked for."""

    def __init__(self, folder: Path, *, base: str = "/") -> None:
        self._folder = folder
        self._base = base
        self._lock = threading.Lock()
        self._building = False
        #: Whether the kit holds byte code; known once it is built.
        self.compiled = False

    @property
    def ready(self) -> bool:
        """Whether the runtime is here and no other thread is still building from it."""
        return runtime.is_there(self._folder) and not self._building

    def about(self) -> dict[str, Any]:
        """What a phone needs to know before it fetches anything, without a server to send to."""
        if not self.ready:
            return {"ready": False}
        return {
            "ready": True,
            "protocol": PROTOCOL,
            "version": self.version,
            "exchange": False,
            "start_seconds": START_SECONDS,
            "headers": HEADERS,
            "pin": runtime.PIN,
            "parts": [asdict(one) for one in self.parts],
            "size": sum(one.size for one in self.parts),
        }

    def packed(self, place: str) -> bytes | None:
        """A part as it goes over the air, or None when there is none at ``place``."""
        return self._by_place.get(place)

    @cached_property
    def _phone(self) -> Flask:
        return phone_app()

    @cached_property
    def version(self) -> str:
        """A digest of all parts."""
        listed = "\n".join(f"{one.place} {one.sha256}" for one in self.parts)
        return hashlib.sha256(listed.encode()).hexdigest()[:16]

    @property
    def parts(self) -> tuple[Part, ...]:
        """Everything to fetch, the small things first."""
        return tuple(part for part, _ in self._built)

    @property
    def _built(self) -> tuple[tuple[Part, bytes], ...]:
        with self._lock:  # two phones may ask at once
            return self._build

    @cached_property
    def _build(self) -> tuple[tuple[Part, bytes], ...]:
        self._building = True
        try:
            return tuple(self._parts())
        finally:
            self._building = False

    def _parts(self) -> Iterator[tuple[Part, bytes]]:
        small = json.dumps(
            {place: [kind, *_in_json(body)] for place, kind, body in self._small()}, sort_keys=True
        ).encode()
        yield _part(f"phone/small/{_sha256(small)[:16]}.json", "application/json", Packed.of(small))
        pack, books = self._python()
        yield _part(f"phone/pack/{_sha256(pack.body)[:16]}.zip", "application/zip", pack)
        yield _part(f"phone/library/{_sha256(books.body)[:16]}.zip", "application/zip", books)
        for name in runtime.FILES:
            if name != LIBRARY:
                place = f"phone/runtime/{runtime.PIN}/{name}"
                yield _part(place, runtime.MIMETYPES[Path(name).suffix], self._kept(name))

    def _python(self) -> tuple[Packed, Packed]:
        """The pack and the standard library, as byte code where that can be made."""
        pack, books = build_pack(), library((self._folder / LIBRARY).read_bytes())
        made = compiled(self._folder, pack, books)
        self.compiled = made is not None
        return made or (Packed.of(pack), Packed.of(books))

    def _kept(self, name: str) -> Packed:
        """A file of the runtime. It was pinned by its digest, so that names it."""
        return packed_once(self._folder, runtime.FILES[name][:16], (self._folder / name).read_bytes)

    @cached_property
    def _by_place(self) -> dict[str, bytes]:
        return {part.place: body for part, body in self._built}

    def _small(self) -> Iterator[tuple[str, str, bytes]]:
        """Pages, styles, scripts, pictures: each one's address below the base, type and bytes."""
        folder = shared_folder("static")
        for file in sorted(folder.rglob("*")):
            if file.is_file() and file.name != "sw.js":
                place = f"static/{file.relative_to(folder).as_posix()}"
                kind = guess_type(file.name)[0] or "application/octet-stream"
                body = file.read_bytes()
                yield place, kind, without_comments(body) if kind == "text/css" else body
        words = [f"/phone/words/{language}.json" for language in LANGUAGES]
        for path in (
            *plain_paths(),
            *words,
            "/manifest.webmanifest",
            *(f"/{one}" for one in FACES),
        ):
            kind, body = self.page(path)
            yield path[1:], kind, body
        for language in LANGUAGES:
            for path in plain_paths() if language != "en" else ():
                kind, body = self.page(path, language)
                yield f"{path[1:]}?in={language}", kind, body

    def page(self, path: str, language: str = "en") -> tuple[str, bytes]:
        """A page as nobody in particular sees it: the same whenever it is made."""
        base_url = f"http://localhost{self._base}"
        asked = {"Accept-Language": language}
        response = self._phone.test_client().get(path, base_url=base_url, headers=asked)
        if response.status_code != 200:
            raise RuntimeError(f"{path} answers {response.status_code}")
        body = response.get_data()
        if response.mimetype == "text/html":
            body = _FORM.sub("", body.decode()).encode()
        return response.content_type, body


def _part(place: str, kind: str, made: Packed) -> tuple[Part, bytes]:
    return Part(place, len(made.packed), _sha256(made.body), kind), made.packed


def _sha256(body: bytes) -> str:
    return hashlib.sha256(body).hexdigest()


def _in_json(body: bytes) -> tuple[str, str]:
    """A file as JSON can hold it, and how: text packs smaller as it is."""
    try:
        return body.decode(), "text"
    except UnicodeDecodeError:
        return base64.b64encode(body).decode(), "base64"
