"""Photos: read by content, made anew without metadata, and kept by digest beside the log."""

from __future__ import annotations

import io
import os
import re
from hashlib import sha256
from pathlib import Path

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import say

#: Largest file that is taken in. [bytes]
LARGEST_PHOTO_BYTES = 15_000_000
#: Most pixels that are unpacked: a small file can hold a picture that fills the memory.
MOST_PIXELS = 50_000_000
#: Longest side that is kept. [pixels]
LONGEST_SIDE = 1600
#: What a camera or a screen makes; nothing that holds script, layers or other files.
FORMATS = ("JPEG", "PNG", "WEBP")

_NAME = re.compile("[0-9a-f]{64}")


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
        raise Problem(
            "photo",
            None,
            say("This file is not a picture that can be read."),
            say("Choose a photo as JPEG, PNG or WebP."),
        ) from None
    return out.getvalue()


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
