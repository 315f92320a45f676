"""Photos: read by content, made anew without metadata, and kept by the digest of their bytes."""

from __future__ import annotations

import io
import os
import re
from collections.abc import Iterable
from hashlib import sha256
from pathlib import Path

from flask import current_app

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import Text, say
from fieldkit.joblog import Entry, JobLog
from fieldkit.joblog.door import LARGEST_PHOTO_BYTES
from fieldkit.web.jpeg import no_picture, only_the_picture

#: Most pixels that are unpacked: a small file can hold a picture that fills the memory.
MOST_PIXELS = 50_000_000
#: Longest side that is kept. [pixels]
LONGEST_SIDE = 1600
#: What a camera or a screen makes; nothing that holds script, layers or other files.
FORMATS = ("JPEG", "PNG", "WEBP")

_NAME = re.compile("[0-9a-f]{64}")


class Photos:
    """The photos of one copy: this one keeps them in memory, as a copy for tests does."""

    #: What is said of a photo that the log knows and this copy has not.
    away: Text = say("This photo is on another copy, not here.")
    #: Whether it is fetched for a page that shows it.
    coming = False

    def __init__(self) -> None:
        self._kept: dict[str, bytes] = {}

    def clean(self, data: bytes, *, keep_metadata: bool = False) -> bytes:
        """What a person chose, as the JPEG that is kept.

        Raises
        ------
        Problem
            It is no picture, of a kind that is not taken, or too large.
        """
        return clean_photo(data, keep_metadata=keep_metadata)

    def take_in(self, digest: str, data: bytes, *, keep_metadata: bool = False) -> None:
        """Keep a photo that another copy sent, if it is what its entry says and nothing more.

        Raises
        ------
        Problem
            It is another file, holds more than a picture, or cannot be drawn.
        """
        check_photo(digest, data, keep_metadata=keep_metadata)
        check_drawn(data)
        self.keep(data)

    def keep(self, data: bytes) -> str:
        """Keep a cleaned photo under the digest of its bytes; returns the digest."""
        digest = sha256(data).hexdigest()
        self._kept[digest] = data
        return digest

    def has(self, digest: str) -> bool:
        """Whether a photo is here."""
        return digest in self._kept

    def read(self, digest: str) -> bytes | None:
        """A photo, if it is here."""
        return self._kept.get(digest)


class FolderPhotos(Photos):
    """The photos of a server: files in a folder beside the log."""

    def __init__(self, folder: Path) -> None:
        super().__init__()
        self.folder = folder

    def keep(self, data: bytes) -> str:
        """Keep a cleaned photo; when this returns it is on the disk."""
        return keep_photo(self.folder, data)

    def take_file(self, digest: str, path: Path, *, keep_metadata: bool) -> None:
        """Keep a photo that came as a file of this folder, which is on the disk already.

        Raises
        ------
        Problem
            As ``take_in``; the file is thrown away.
        """
        try:
            data = path.read_bytes()
            check_photo(digest, data, keep_metadata=keep_metadata)
            check_drawn(data)
        except Problem:
            path.unlink()
            raise
        path.replace(self.folder / f"{digest}.jpg")

    def has(self, digest: str) -> bool:
        """Whether a photo is here."""
        return photo_path(self.folder, digest) is not None

    def read(self, digest: str) -> bytes | None:
        """A photo, if it is here."""
        path = photo_path(self.folder, digest)
        return path.read_bytes() if path else None


def photos() -> Photos:
    """The photos of the application that is answering."""
    found: Photos = current_app.extensions["photos"]
    return found


def naming(log: JobLog, digest: str) -> Entry:
    """The entry that names a photo.

    Raises
    ------
    Problem
        There is none: a photo travels after its entry.
    """
    found = log.photo_named(digest)
    if found is None:
        raise Problem(
            "photo",
            digest,
            say("No entry here names this photo."),
            say("Send its entry first. If that was refused, so is the photo."),
        )
    return found


def take_carried(
    log: JobLog, store: Photos, carried: Iterable[tuple[str, bytes]]
) -> list[tuple[str, Problem]]:
    """Keep the photos of a file whose entries are in the log; says which were refused, and why."""
    refused = []
    for digest, data in carried:
        try:
            named = naming(log, digest)
            store.take_in(digest, data, keep_metadata=keeps_metadata(named))
        except Problem as problem:
            refused.append((digest, problem))
    return refused


def keeps_metadata(named: Entry) -> bool:
    """Whether place and time were kept in a photo on purpose, as its entry says."""
    return named.understood.get("kept_metadata") is True


def clean_photo(data: bytes, *, keep_metadata: bool = False) -> bytes:
    """The picture as a JPEG of our own making, upright, at most ``LONGEST_SIDE`` long.

    What the camera wrote beside it (place, time, maker) is left out unless kept on purpose.

    Raises
    ------
    Problem
        It is no picture, of a kind that is not taken, or too large.
    """
    from PIL import Image, ImageOps, UnidentifiedImageError  # noqa: PLC0415  -- not on a phone

    if len(data) > LARGEST_PHOTO_BYTES:
        raise _too_large()
    if data.startswith(b"\xff\xd8"):
        only_the_picture(data)  # its layers and parts are counted before anything is drawn
    try:
        with Image.open(io.BytesIO(data), formats=FORMATS) as picture:
            if picture.width * picture.height > MOST_PIXELS:
                raise _too_large()
            picture.draft("RGB", (LONGEST_SIDE, LONGEST_SIDE))
            exif = picture.getexif()
            upright = ImageOps.exif_transpose(picture)
            upright.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
            flat = Image.new("RGB", upright.size, "white")
            layer = upright.convert("RGBA")
            flat.paste(layer, mask=layer.getchannel("A"))
            out = io.BytesIO()
            if keep_metadata:
                exif.pop(0x0112, None)  # it stands upright now
                flat.save(out, "JPEG", quality=82, exif=exif)
            else:
                flat.save(out, "JPEG", quality=82)
    except Image.DecompressionBombError:
        raise _too_large() from None
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError):
        raise no_picture() from None
    return only_the_picture(out.getvalue(), keep_metadata=keep_metadata).data


def plain_photo(data: bytes, *, keep_metadata: bool = False) -> bytes:
    """The same where no picture can be drawn anew, as in a phone's Python.

    The page made it small before it sent it; here all but the picture is left out.

    Raises
    ------
    Problem
        It is no JPEG, or larger than is kept.
    """
    made = only_the_picture(data, keep_metadata=keep_metadata)
    if max(made.width, made.height) > LONGEST_SIDE:
        raise Problem(
            "photo",
            None,
            say("This picture could not be made smaller on this phone."),
            say("Take it anew with a lower setting, or choose another one."),
        )
    return made.data


def check_photo(digest: str, data: bytes, *, keep_metadata: bool = False) -> None:
    """See that ``data`` is the photo of that digest, and nothing but a picture.

    Making it anew must give the very same bytes, as the log and its seals name it by them.

    Raises
    ------
    Problem
        It is another file, holds more than a picture, or cannot be drawn.
    """
    if sha256(data).hexdigest() != digest:
        raise Problem(
            "photo",
            digest,
            say("What came is not the photo that its entry names."),
            say("Send it again."),
        )
    if plain_photo(data, keep_metadata=keep_metadata) != data:
        raise Problem(
            "photo",
            digest,
            say("This photo holds more than the picture."),
            say("Choose it again: what is beside the picture is then left out."),
        )


def check_drawn(data: bytes) -> None:
    """See that a picture can be drawn to its end.

    Raises
    ------
    Problem
        It cannot.
    """
    from PIL import Image  # noqa: PLC0415  -- not on a phone

    try:
        with Image.open(io.BytesIO(data), formats=("JPEG",)) as picture:
            picture.load()
    except (OSError, ValueError, SyntaxError):
        raise no_picture() from None


def _too_large() -> Problem:
    return Problem(
        "photo",
        None,
        say("This picture is too large."),
        say("Take one of up to 15 MB and 50 million points."),
    )


def keep_photo(folder: Path, data: bytes) -> str:
    """Keep a cleaned photo under the digest of its bytes; returns the digest."""
    name = sha256(data).hexdigest()
    folder.mkdir(mode=0o700, exist_ok=True)
    path = folder / f"{name}.jpg"
    if not path.exists():
        part = folder / f"{name}.{os.getpid()}.{os.urandom(4).hex()}.part"
        with part.open("wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        part.replace(path)
    return name


def photo_path(folder: Path, digest: str) -> Path | None:
    """The file of a photo, if that is a digest and the file is here."""
    if not _NAME.fullmatch(digest):
        return None
    path = folder / f"{digest}.jpg"
    return path if path.is_file() else None
