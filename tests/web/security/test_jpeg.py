"""A JPEG made anew part by part: the same picture to another program, and nothing beside it."""

from __future__ import annotations

import io
from hashlib import sha256

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from support.pictures import camera_photo

from fieldkit.engine.problems import Problem
from fieldkit.web.jpeg import only_the_picture
from fieldkit.web.photos import check_photo, clean_photo, plain_photo

SMALL = camera_photo((64, 48))


def digest_of(data: bytes) -> str:
    return sha256(data).hexdigest()


def points(data: bytes) -> bytes:
    """The picture as Pillow draws it."""
    with Image.open(io.BytesIO(data)) as picture:
        return picture.convert("RGB").tobytes()


def saved(**how) -> bytes:
    out = io.BytesIO()
    with Image.open(io.BytesIO(SMALL)) as picture:
        picture.save(out, "JPEG", **how)
    return out.getvalue()


@pytest.mark.parametrize(
    "data",
    [
        SMALL,
        saved(quality=30, progressive=True, comment=b"a remark"),
        saved(quality=95, subsampling=0, optimize=True, restart_marker_blocks=2),
        saved(icc_profile=b"x" * 3000),
        SMALL + b"PK\x03\x04 another file behind the end",
    ],
)
def test_another_program_draws_the_same_picture_and_finds_nothing_beside_it(data):
    made = only_the_picture(data)
    assert points(made.data) == points(data)
    with Image.open(io.BytesIO(made.data)) as picture:
        assert (picture.width, picture.height) == (made.width, made.height)
        assert not picture.getexif()
        assert not {"comment", "icc_profile", "exif"} & picture.info.keys()
    for beside in (b"Maker", b"remark", b"another file", b"Exif"):
        assert beside not in made.data
    assert only_the_picture(made.data) == made, "made anew twice gives the same bytes"


def test_place_and_time_are_kept_on_purpose_only():
    kept = plain_photo(SMALL, keep_metadata=True)
    with Image.open(io.BytesIO(kept)) as picture:
        assert picture.getexif().get_ifd(0x8825)[1] == "N"
    with pytest.raises(Problem, match="more than the picture"):
        check_photo(digest_of(kept), kept)
    check_photo(digest_of(kept), kept, keep_metadata=True)


def test_what_a_server_made_of_a_photo_is_what_another_takes_in():
    for keep in (False, True):
        made = clean_photo(camera_photo(), keep_metadata=keep)
        check_photo(digest_of(made), made, keep_metadata=keep)


def test_a_photo_that_was_not_made_small_is_refused_in_plain_words():
    with pytest.raises(Problem, match="could not be made smaller"):
        plain_photo(camera_photo((1700, 100)))


@settings(max_examples=300)
@given(st.data())
def test_no_bytes_do_harm(data):
    """Cut, changed and made-up files are refused, or hold a picture; nothing else happens."""
    body = bytearray(SMALL[: data.draw(st.integers(0, len(SMALL)))])
    for _ in range(data.draw(st.integers(0, 3))):
        if body:
            body[data.draw(st.integers(0, len(body) - 1))] = data.draw(st.integers(0, 255))
    try:
        made = only_the_picture(bytes(body))
    except Problem:
        return
    assert only_the_picture(made.data) == made


def with_scans(count: int, size=(640, 480)) -> bytes:
    """A progressive picture whose last layer stands in it again and again."""
    out = io.BytesIO()
    Image.effect_noise(size, 80).convert("RGB").save(out, "JPEG", progressive=True)
    data = out.getvalue()
    last = data[data.rindex(b"\xff\xda") : -2]
    return data[:-2] + last * (count - data.count(b"\xff\xda")) + data[-2:]


@pytest.mark.parametrize(
    "slow",
    [
        with_scans(2_000, (64, 48)),
        with_scans(40, (1600, 1200)),
        SMALL[:2] + b"\xff\xfe\x00\x02" * 100_000 + SMALL[2:],
    ],
    ids=["scans", "points", "parts"],
)
def test_a_picture_that_is_slow_to_draw_is_refused_before_it_is_drawn(slow, monkeypatch):
    monkeypatch.setattr("PIL.Image.open", lambda *given, **named: pytest.fail("it was drawn"))
    for take in (clean_photo, plain_photo, lambda data: check_photo(digest_of(data), data)):
        with pytest.raises(Problem, match="too many layers or parts"):
            take(slow)


def test_what_cameras_and_pages_make_is_taken():
    for data in (with_scans(10, (1600, 1200)), camera_photo((4000, 3000))):
        assert clean_photo(data)


@pytest.mark.parametrize("data", [b"\xff" * 15_000_000, SMALL[:-2] + b"\xff\x00" * 7_000_000])
def test_fifteen_megabytes_without_an_end_are_no_picture(data):
    with pytest.raises(Problem):
        only_the_picture(b"\xff\xd8" + data)
