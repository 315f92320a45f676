"""A JPEG with nothing in it but the picture: made anew part by part, in plain Python.

The picture itself is copied as it is, so making it anew twice gives the same bytes, on a phone
and on a server. What else a file can carry (place, maker, a small second picture, remarks, other
files behind the end) is left out.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import say

_SOI, _EOI, _SOS = 0xD8, 0xD9, 0xDA
_APP0, _APP1, _APP14, _APP15, _COM = 0xE0, 0xE1, 0xEE, 0xEF, 0xFE
#: Tables, frames and intervals: what a reader needs to draw the picture. Frames are the baseline,
#: extended and progressive ones, which every browser draws.
_DRAWN = frozenset({0xC0, 0xC1, 0xC2, 0xC4, 0xDB, 0xDD, _SOS})
_FRAMES = frozenset({0xC0, 0xC1, 0xC2})

#: Most scans and parts of a file. A camera's has one scan, a web page's ten or so; parts come to
#: some hundreds where a colour profile or a second picture is cut into many.
MOST_SCANS, MOST_PARTS = 64, 1_000
#: Most points to draw, over all scans: each goes over the whole picture again. [pixels]
MOST_DRAWN = 50_000_000

#: Fill bytes; and the end of a scan: a marker that is no stuffed byte, restart or fill.
_FILL = re.compile(rb"\xff+")
_MARKER = re.compile(rb"\xff[^\x00\xd0-\xd7\xff]")

_JFIF = b"JFIF\0"
_EXIF = b"Exif\0\0"
_ADOBE = b"Adobe"


@dataclass(frozen=True, slots=True)
class Picture:
    """A JPEG made anew, and its size. [pixels]"""

    data: bytes
    width: int
    height: int


def only_the_picture(data: bytes, *, keep_metadata: bool = False) -> Picture:
    """The picture in ``data`` as a JPEG that holds nothing else.

    ``keep_metadata`` keeps what the camera wrote about place and time.

    Raises
    ------
    Problem
        It is not a whole JPEG, or takes too long to draw.

    Source
    ------
    ITU-T T.81, annex B (order of markers and segments).
    """
    try:
        return _made_anew(data, keep_metadata)
    except Problem:
        raise
    except (IndexError, ValueError):
        raise no_picture() from None


def _made_anew(data: bytes, keep_metadata: bool) -> Picture:
    if data[:2] != bytes((0xFF, _SOI)):
        raise ValueError("no start")
    out = [data[:2]]
    size: tuple[int, int] | None = None
    scans = 0
    at = 2
    for _ in range(MOST_PARTS):
        fill = _FILL.match(data, at)  # any number of fill bytes may stand before a marker
        if fill is None:
            raise ValueError("no marker")
        at = fill.end() - 1
        marker = data[at + 1]
        if marker == _EOI:
            break
        length = int.from_bytes(data[at + 2 : at + 4])
        body = data[at + 4 : at + 2 + length]
        if length < 2 or len(body) != length - 2:
            raise ValueError("cut short")
        if marker in _FRAMES:
            if size is not None:
                raise ValueError("two pictures")
            size = int.from_bytes(body[3:5]), int.from_bytes(body[1:3])
        if _is_kept(marker, body, keep_metadata):
            out.append(bytes((0xFF, marker)) + data[at + 2 : at + 2 + length])
        at += 2 + length
        if marker == _SOS:
            end = _end_of_scan(data, at)
            out.append(data[at:end])
            scans, at = scans + 1, end
            if size is None or scans > MOST_SCANS or scans * size[0] * size[1] > MOST_DRAWN:
                raise too_slow()
    else:
        raise too_slow()
    if size is None or 0 in size or not scans:
        raise ValueError("nothing drawn")
    out.append(bytes((0xFF, _EOI)))
    return Picture(b"".join(out), *size)


def _is_kept(marker: int, body: bytes, keep_metadata: bool) -> bool:
    if marker in _DRAWN:
        return True
    if marker == _APP0:
        return body[:5] == _JFIF and len(body) == 14  # without a small picture of its own
    if marker == _APP14:
        return body[:5] == _ADOBE and len(body) == 12  # says how the colours are written
    if marker == _APP1:
        return keep_metadata and body[:6] == _EXIF
    if _APP0 <= marker <= _APP15 or marker == _COM:
        return False
    raise ValueError("a kind of JPEG that browsers do not draw")


def _end_of_scan(data: bytes, at: int) -> int:
    """Where the next marker stands that is not part of a scan's own data."""
    found = _MARKER.search(data, at)
    if found is None:
        raise ValueError("cut short")
    return found.start()


def too_slow() -> Problem:
    """What is said of a picture that would keep everybody waiting while it is drawn."""
    return Problem(
        "photo",
        None,
        say("This picture is written in too many layers or parts."),
        say("Save it anew as a plain JPEG, or take it with a camera."),
    )


def no_picture() -> Problem:
    """What is said of a file that is no picture."""
    return Problem(
        "photo",
        None,
        say("This file is not a picture that can be read."),
        say("Choose a photo as JPEG, PNG or WebP."),
    )
