"""What a lead sees of how the server is kept."""

from __future__ import annotations

import itertools
import shutil
from collections import namedtuple

import pytest
from support.hand import Hand

from fieldkit.app import make_app
from fieldkit.joblog import upkeep, utc_text
from fieldkit.web import clock

DAY_MS = 86_400_000


@pytest.fixture
def hand(tmp_path):
    app = make_app(tmp_path / "log.db", testing=True)
    yield Hand(app.test_client())
    app.extensions["joblog"].close()


def ago(days: float) -> str:
    return utc_text(clock.now_ms() - round(days * DAY_MS))


def states(hand) -> list[str]:
    words = hand.read("/backup").words.split("How the server is kept")[1]
    titles = ("Last backup", "last looked through", "back to try it", "Room on the disk", "Done on")
    found = []
    for title, following in itertools.pairwise(titles):
        part = words.split(title)[1].split(following)[0]
        found += [one for one in ("Done", "Long ago", "Went wrong", "Never", "Little", "Enough")
                  if one in part]  # fmt: skip
    return found


def test_what_was_never_done_late_or_wrong_is_said(hand, tmp_path, monkeypatch):
    log = tmp_path / "log.db"
    assert states(hand) == ["Never", "Never", "Never", "Enough"]
    for what in ("backup", "verify", "drill"):
        upkeep.note(log, what, ago(1))
    page = hand.read("/backup")
    assert states(hand) == ["Done", "Done", "Done", "Enough"]
    assert "fieldkit setup" not in page.words
    upkeep.note(log, "backup", ago(3))
    upkeep.note(log, "verify", ago(0), wrong="1 of 2 seals are broken")
    disk = namedtuple("disk", "total used free")
    monkeypatch.setattr(shutil, "disk_usage", lambda _: disk(40e9, 39e9, 1e9))
    assert states(hand) == ["Long ago", "Went wrong", "Done", "Little"]
    assert "1 GB of 40 GB are free" in hand.read("/backup").words


@pytest.mark.parametrize(
    "torn", ["", "[]", "{", '{"backup": 3}', '{"backup": {"at": 7}}', "[" * 9999]
)
def test_a_torn_note_says_that_nothing_was_done(hand, tmp_path, torn):
    upkeep.upkeep_file(tmp_path / "log.db").write_text(torn)
    assert states(hand)[0] == "Never"
    upkeep.note(tmp_path / "log.db", "backup", ago(0))
    assert states(hand)[0] == "Done"
