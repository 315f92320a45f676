"""Which copies stay, against the calendar."""

from __future__ import annotations

import calendar
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldkit.joblog.keeping import Copy, copies_of, copy_name, read_rule, too_many

LAST = datetime(2026, 12, 31, 2, 30, tzinfo=UTC)


def made(*moments: datetime) -> list[Copy]:
    return [Copy(Path(f"{one:%Y%m%dT%H%M%S}"), one) for one in sorted(moments, reverse=True)]


def stay(copies: list[Copy], rule: str) -> set[tuple[int, int]]:
    gone = too_many(copies, read_rule(rule))
    return {(one.at.month, one.at.day) for one in copies if one not in gone}


def test_of_a_year_of_nights_the_last_of_each_period_stays():
    nights = made(*(LAST - timedelta(days=n) for n in range(365)))
    days = {(12, day) for day in range(25, 32)}
    # ISO 8601: 31 December 2026 is in week 53; weeks end on Sundays.
    sundays = [day for day in range(1, 32) if calendar.weekday(2026, 12, day) == calendar.SUNDAY]
    weeks = {(12, 31), *((12, day) for day in sundays[-3:])}
    months = {(month, calendar.monthrange(2026, month)[1]) for month in range(1, 13)}
    assert stay(nights, "7d") == days
    assert stay(nights, "4w") == weeks
    assert stay(nights, "12m") == months
    assert stay(nights, "7d4w12m") == days | weeks | months


def test_a_server_that_stood_still_loses_nothing():
    """The last copies before a long pause are not old because of it."""
    before = [LAST - timedelta(days=300 + n) for n in range(7)]
    copies = made(*before, LAST)
    gone = too_many(copies, read_rule("7d"))
    assert [one.at for one in gone] == [before[-1]]


@given(
    st.lists(st.datetimes(datetime(2020, 1, 1), datetime(2030, 1, 1)), min_size=1, unique=True),
    st.sampled_from(["1d", "7d4w12m", "3y", "2w1y"]),
)
def test_the_newest_stays_and_doing_it_again_takes_no_more(moments, rule):
    copies = made(*(one.replace(microsecond=0, tzinfo=UTC) for one in moments))
    gone = too_many(copies, read_rule(rule))
    left = [one for one in copies if one not in gone]
    assert left[0] == copies[0]
    assert too_many(left, read_rule(rule)) == []


@pytest.mark.parametrize("rule", ["", "7", "d7", "0d", "7d-4w", "7h", "99999d", "7d 4w"])
def test_what_is_no_rule_is_refused(rule):
    with pytest.raises(ValueError, match=rule or "^$"):
        read_rule(rule)


def test_only_this_logs_copies_are_anybodys_business(tmp_path):
    mine = copy_name(tmp_path / "fieldkit.db", "2026-05-01T14:03:00.000Z", encrypted=False)
    for name in (mine, "fieldkit-20260501T150300Z.zip.age", "demo-20260501T140300Z.zip",
                 "fieldkit-before-x.db", "fieldkit-20260501T140300Z.part", "a.txt"):  # fmt: skip
        (tmp_path / name).touch()
    found = copies_of(tmp_path / "fieldkit.db", tmp_path)
    assert [one.path.name for one in found] == ["fieldkit-20260501T150300Z.zip.age", mine]
