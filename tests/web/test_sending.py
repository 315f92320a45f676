"""What travels is packed where that is safe, and a file is kept for good under its own version."""

from __future__ import annotations

import gzip
import re

import pytest

PACKED = {"Accept-Encoding": "gzip, deflate, br"}


def read(hand, path, headers=None):
    """An answer, read to its end."""
    with hand.client.get(path, headers=headers) as answer:
        answer.get_data()
        return answer


@pytest.mark.parametrize("path", ["/", "/tables", "/api/", "/static/page.css", "/static/icon.svg"])
def test_the_same_comes_packed_to_whoever_can_unpack_it(hand, path):
    plain = read(hand, path)
    packed = read(hand, path, headers=PACKED)
    assert "Content-Encoding" not in plain.headers
    assert "Accept-Encoding" in plain.headers["Vary"]
    if len(plain.get_data()) < 600:
        assert packed.get_data() == plain.get_data()
        return
    assert packed.headers["Content-Encoding"] == "gzip"
    assert "Accept-Encoding" in packed.headers["Vary"]
    assert packed.content_length == len(packed.get_data()) < len(plain.get_data())
    if "static" in path:
        assert gzip.decompress(packed.get_data()) == plain.get_data()


def test_who_refuses_gzip_gets_none(hand):
    for said in ("identity", "gzip;q=0", "br"):
        assert "Content-Encoding" not in read(hand, "/", headers={"Accept-Encoding": said}).headers


def test_no_page_that_repeats_what_another_site_may_choose_is_packed(hand):
    """BREACH: a token beside chosen text must not show through the length."""
    for path in ("/jobs?q=csrf_token", "/nothing-here/csrf_token"):
        answer = read(hand, path, headers=PACKED)
        assert "csrf_token" in answer.get_data(as_text=True)
        assert "Content-Encoding" not in answer.headers


def test_a_form_that_comes_back_is_not_packed(hand):
    page = hand.read("/jobs")
    action, fields = page.form("/jobs")
    answer = hand.client.post(action, data={**fields, "name": ""}, headers=PACKED)
    assert answer.status_code == 422
    assert "Content-Encoding" not in answer.headers


def test_a_file_is_kept_for_good_under_its_version_only(hand):
    html = read(hand, "/").get_data(as_text=True)
    address = re.search(r'/static/page\.css\?v=[0-9a-f]{10}(?=")', html)[0]
    for_good = "public, max-age=31536000, immutable"
    assert read(hand, address).headers["Cache-Control"] == for_good
    for other in ("/static/page.css", "/static/page.css?v=0123456789"):
        assert read(hand, other).headers["Cache-Control"] == "no-cache"
    assert read(hand, "/static/none.css?v=").status_code == 404


def test_a_file_that_is_there_already_is_not_sent_again(hand):
    first = read(hand, "/static/page.css", headers=PACKED)
    again = read(
        hand, "/static/page.css", headers={**PACKED, "If-None-Match": first.headers["ETag"]}
    )
    assert again.status_code == 304
    assert again.get_data() == b""
