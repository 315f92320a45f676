"""Photos on their way: kept by a phone beside its entries, and taken in part by part by a server.

A photo is named by the digest of its bytes, here as there, so sending one twice changes nothing,
and what came damaged is noticed. It travels after the entry that names it.
"""

from __future__ import annotations

import os
import threading
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from fieldkit.engine.words import say
from fieldkit.joblog import Entry
from fieldkit.web.photos import FolderPhotos, Photos, check_photo, keeps_metadata, plain_photo

#: Largest part of a photo that is sent at a time: small, so that a weak signal gets on. [bytes]
LARGEST_PART = 256 * 1024

#: What is said of a photo that a phone has not fetched.
ON_SERVER = say("The picture is on the server. It shows here while there is signal.")

_turn = threading.Lock()


class PhonePhotos(Photos):
    """What a phone's program knows of photos: the browser keeps them, and is told what to keep.

    ``taken`` are those that the request being answered added. ``lend`` hands in what a page needs
    whole, until it is answered.
    """

    def __init__(self) -> None:
        super().__init__()
        self._here: frozenset[str] = frozenset()
        self.taken: dict[str, bytes] = {}

    def clean(self, data: bytes, *, keep_metadata: bool = False) -> bytes:
        """What a person chose; its page has made it small."""
        return plain_photo(data, keep_metadata=keep_metadata)

    def take_in(self, digest: str, data: bytes, *, keep_metadata: bool = False) -> None:
        """Keep a photo that came in a file."""
        check_photo(digest, data, keep_metadata=keep_metadata)
        self.keep(data)

    def keep(self, data: bytes) -> str:
        """Name a photo for the browser to keep."""
        digest = super().keep(data)
        self.taken[digest] = data
        return digest

    def has(self, digest: str) -> bool:
        """Whether the browser keeps a photo, or is about to."""
        return digest in self._here or super().has(digest)

    def taken_along(self, *, from_server: bool) -> None:
        """Say whether there is a server that has what is not here."""
        self.away = ON_SERVER if from_server else Photos.away
        self.coming = from_server

    def now_here(self, digests: frozenset[str]) -> None:
        """Say which photos the browser keeps."""
        self._here = digests

    def lend(self, lent: Mapping[str, bytes]) -> None:
        """Hold photos for the page that is answered next."""
        self._kept = dict(lent)
        self.taken = {}


@dataclass(frozen=True, slots=True)
class Progress:
    """How much of a photo is here. [bytes]"""

    have: int
    whole: bool


def take_part(store: FolderPhotos, named: Entry, start: int, part: bytes) -> Progress:
    """Add a part of a photo that begins at byte ``start``; the last one makes it whole.

    A part that does not follow what is here changes nothing: the answer says where to go on. An
    empty one asks just that.

    Raises
    ------
    Problem
        What came, now that all of it is here, is not a photo that is kept. It is thrown away.
    """
    digest, size = named.understood["digest"], named.understood["bytes"]
    with _turn:  # two phones may send the same photo
        if store.has(digest):
            return Progress(size, whole=True)
        coming = store.folder / f"{digest}.coming"
        have = coming.stat().st_size if coming.exists() else 0
        if part and start == have:
            have = _append(coming, part)
        if have < size:
            return Progress(have, whole=False)
        store.take_file(digest, coming, keep_metadata=keeps_metadata(named))
        return Progress(size, whole=True)


def _append(path: Path, part: bytes) -> int:
    path.parent.mkdir(mode=0o700, exist_ok=True)
    with path.open("ab") as file:
        file.write(part)
        file.flush()
        os.fsync(file.fileno())
        return file.tell()
