"""Pictures as a phone's camera makes them: large, turned, with place and maker written beside."""

from __future__ import annotations

import io
import os

from PIL import Image


def camera_photo(size: tuple[int, int] = (2400, 1600)) -> bytes:
    """A JPEG of that size that is to be shown turned by a quarter, unlike any other."""
    # Coarse chance, so that it packs about as well as a picture of a valve box.
    picture = Image.frombytes("RGB", (60, 40), os.urandom(60 * 40 * 3)).resize(size)
    exif = Image.Exif()
    exif[0x010F] = "Maker of cameras"
    exif[0x0112] = 6  # turned by a quarter
    exif.get_ifd(0x8825).update({1: "N", 2: (48.0, 1.0, 2.0)})
    out = io.BytesIO()
    picture.save(out, "JPEG", quality=90, exif=exif)
    return out.getvalue()
