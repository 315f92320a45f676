"""Moments are read strictly, answered in the form they came in, and never rounded down."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldkit.engine.problems import Problem
from fieldkit.typed.moments import clock_minutes, read_moment


@pytest.mark.parametrize(
    ("text", "later"),
    [
        ("2026-11-25T14:00", "2026-11-25T15:30"),
        ("2026-11-25 14:00", "2026-11-25T15:30"),
        ("2026-11-25T14:00Z", "2026-11-25T15:30Z"),
        ("2026-11-25T14:00:00Z", "2026-11-25T15:30:00Z"),
        ("2026-11-25T23:30-07:00", "2026-11-26T01:00-07:00"),
        ("2026-11-25T14:00:30.250+05:30", "2026-11-25T15:30:31+05:30"),
        ("2028-02-28T23:00", "2028-02-29T00:30"),
    ],
)
def test_the_answer_keeps_the_form(text, later):
    assert read_moment(text, field="made_at").after(90) == later


@pytest.mark.parametrize(
    "text",
    ["", "2026-11-25", "14:00", "2026-13-01T00:00", "2026-02-30T10:00", "2026-11-25T25:00",
     "2026-W48-3T10:00", "20261125T1400", "2026-11-25T14:00 UTC", "٢٠٢٦-11-25T14:00", 5, None, []],
)  # fmt: skip
def test_anything_else_is_asked_again(text):
    with pytest.raises(Problem, match="is not a date with a time of day"):
        read_moment(text, field="made_at")


def test_minutes_between_two_clocks():
    utc = read_moment("2026-11-25T21:00Z", field="a")
    west = read_moment("2026-11-25T14:00-07:00", field="b")
    plain = read_moment("2026-11-25T22:00", field="c")
    assert utc.minutes_to(west) == 0
    assert utc.minutes_to(plain) == 60  # one without an offset is on the other's clock
    assert plain.minutes_to(utc) == -60
    assert west.minute_of_day == 14 * 60
    assert west.earlier(30).after(0) == "2026-11-25T13:30-07:00"


def test_the_end_of_the_calendar_is_no_crash():
    assert read_moment("9999-12-31T23:00Z", field="a").after(120) is None


@given(st.floats(0, 20_000))
def test_readiness_is_never_early_and_within_a_minute(minutes):
    start = read_moment("2026-11-25T14:00Z", field="a")
    text = start.after(minutes)
    assert text is not None
    told = start.minutes_to(read_moment(text, field="b"))
    assert minutes - 1e-3 <= told < minutes + 1


@pytest.mark.parametrize(
    ("text", "minutes"), [("0:00", 0), ("14:30", 870), ("24:00", None), ("9:60", None), (9, None)]
)
def test_times_of_day(text, minutes):
    assert clock_minutes(text) == minutes
