"""The table of ASVS points names a test for each thing that it says, and the test is there."""

from __future__ import annotations

import re
from pathlib import Path

TESTS = Path(__file__).resolve().parents[2]
TABLE = Path(__file__).with_name("ASVS.md")


def test_each_point_names_a_test_that_exists_or_says_that_there_is_none():
    rows = [
        [cell.strip() for cell in line.strip("|").split("|")]
        for line in TABLE.read_text(encoding="utf-8").splitlines()
        if re.match(r"\| \d", line)
    ]
    assert len(rows) > 60
    missing = []
    for points, what, test in rows:
        named = re.findall(r"`([^`]+)`", test)
        missing += [f"{points}: {one}" for one in named if not (TESTS / one).exists()]
        if not named and not re.search("no such code|not tested|its own tests", test):
            missing += [] if re.search(r"\*\*Not (held|ours)\*\*", what) else [points]
    assert missing == []
