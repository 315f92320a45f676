"""Photos: read by content, without place and time, bombs refused, served as images only."""

from __future__ import annotations

import io
import struct
import zlib

import pytest
from PIL import Image
from support.entries import NOW, a_job

from fieldkit.engine.problems import Problem
from fieldkit.web.photos import LONGEST_SIDE, clean_photo, keep_photo, photo_path


def jpeg(size=(40, 30), **more):
    out = io.BytesIO()
    Image.new("RGB", size, "brown").save(out, "JPEG", **more)
    return out.getvalue()


def exif_with_place():
    exif = Image.Exif()
    exif[0x010F] = "Maker"
    exif.get_ifd(0x8825).update({1: "N", 2: (48.0, 1.0, 2.0)})
    return exif


def bomb():
    """A PNG of 30 000 × 30 000 points in a few bytes, by the PNG specification."""

    def chunk(kind, body):
        return (
            struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))
        )

    head = struct.pack(">IIBBBBB", 30_000, 30_000, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(bytes(9000)))
        + chunk(b"IEND", b"")
    )  # fmt: skip


def test_place_and_camera_are_removed_unless_kept():
    data = jpeg(exif=exif_with_place())
    assert Image.open(io.BytesIO(data)).getexif().get_ifd(0x8825)
    assert not Image.open(io.BytesIO(clean_photo(data))).getexif()
    kept = Image.open(io.BytesIO(clean_photo(data, keep_metadata=True))).getexif()
    assert kept[0x010F] == "Maker"
    assert kept.get_ifd(0x8825)[1] == "N"


def test_a_large_photo_is_made_smaller_and_a_turned_one_upright():
    exif = Image.Exif()
    exif[0x0112] = 6
    made = Image.open(io.BytesIO(clean_photo(jpeg((4000, 2000), exif=exif))))
    assert made.size == (LONGEST_SIDE // 2, LONGEST_SIDE)


@pytest.mark.parametrize(
    "data",
    [b"", b"GIF89a", b"<svg onload='alert(1)'/>", b"\xff\xd8\xff", jpeg()[:200], b"%PDF-1.7"],
)
def test_what_is_no_photo_is_refused(data):
    with pytest.raises(Problem, match="not a picture"):
        clean_photo(data)


def test_a_bomb_is_refused_before_it_is_unpacked():
    with pytest.raises(Problem, match="too large"):
        clean_photo(bomb())


@pytest.mark.parametrize("name", ["../log", "..%2flog", "a" * 63, "A" * 64, "/etc/passwd", ""])
def test_no_name_leads_out_of_the_folder(tmp_path, name):
    (tmp_path / "log.jpg").write_bytes(b"x")
    folder = tmp_path / "photos"
    assert len(keep_photo(folder, b"photo")) == 64
    assert photo_path(folder, name) is None


def test_a_photo_is_kept_once_shown_as_an_image_and_not_under_another_joint(app, hand):
    app.extensions["joblog"].append(a_job(), NOW)
    page = hand.read("/joint/joint-1/photos")
    action, fields = page.form("/photos")
    for _ in range(2):
        data = {**fields, "photo": (io.BytesIO(jpeg()), "../../x.html"), "about": "<b>Crack</b>"}
        hand.client.post(action, data=data)
    page = hand.read("/joint/joint-1/photos")
    assert page.html.count("<figure") == 1
    assert "<b>Crack" not in page.html
    where = page.html.split('<img src="')[1].split('"')[0]
    response = hand.client.get(where)
    assert response.mimetype == "image/jpeg"
    assert response.headers["X-Content-Type-Options"] == "nosniff"
    assert "sandbox" in response.headers["Content-Security-Policy"]
    digest = where.rsplit("/", 1)[1]
    assert hand.client.get(f"/joint/other/photos/{digest}").status_code == 404
    assert hand.client.get(f"/joint/joint-1/photos/{'0' * 64}.jpg").status_code == 404


def test_a_wrong_file_is_said_on_the_page(app, hand):
    app.extensions["joblog"].append(a_job(), NOW)
    action, fields = hand.read("/joint/joint-1/photos").form("/photos")
    data = {**fields, "photo": (io.BytesIO(b"<script>"), "x.jpg")}
    response = hand.client.post(action, data=data)
    assert response.status_code == 422
    assert "not a picture" in response.get_data(as_text=True)
