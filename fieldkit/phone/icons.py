"""Our mark as a PNG: a sleeve on a pipe, in ink on yellow. Phones want a picture, not a drawing.

Every edge of the mark is upright or level, so a picture of it is a few filled rectangles.
"""

from __future__ import annotations

import struct
import zlib
from functools import cache

#: For the manifest.
SIZES = (192, 512)

#: For the home screen of a phone that reads no manifest for it.
TOUCH_SIZE = 180

GROUND = bytes.fromhex("FFD21A")
INK = bytes.fromhex("0F1418")

#: The strokes of static/icon.svg as (left, top, right, bottom) on its 64 × 64 sheet.
STROKES = (
    (6, 20, 30, 24),
    (26, 20, 30, 44),
    (6, 40, 30, 44),
    (28, 24, 36, 28),
    (36, 20, 44, 24),
    (40, 20, 44, 44),
    (36, 40, 44, 44),
    (28, 36, 36, 40),
    (42, 25, 58, 29),
    (42, 35, 58, 39),
)

#: The mark is drawn this much smaller, so that a round mask cuts nothing off.
_SHRINK = 0.72


@cache
def icon_png(size: int) -> bytes:
    """The mark as a square PNG.

    Parameters
    ----------
    size : int
        Width and height, above 0. [pixels]

    Source
    ------
    PNG: W3C Recommendation, Portable Network Graphics (third edition). Read back by a test.
    """
    scale = size / 64 * _SHRINK
    shift = size * (1 - _SHRINK) / 2
    boxes = [tuple(round(shift + scale * edge) for edge in stroke) for stroke in STROKES]
    rows = bytearray()
    for y in range(size):
        row = bytearray(GROUND * size)
        for left, top, right, bottom in boxes:
            if top <= y < bottom:
                row[3 * left : 3 * right] = INK * (right - left)
        rows += b"\0" + row  # filter: none
    header = struct.pack(">IIBBBBB", size, size, 8, 2, 0, 0, 0)  # 8 bits, RGB
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        _chunk(kind, body)
        for kind, body in (
            (b"IHDR", header),
            (b"IDAT", zlib.compress(bytes(rows), 9)),
            (b"IEND", b""),
        )
    )


def _chunk(kind: bytes, body: bytes) -> bytes:
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))
