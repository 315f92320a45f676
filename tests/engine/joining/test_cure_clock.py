"""Adding up a forecast: agrees with a step-by-step sum, and never beats the warmest hour."""

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from fieldkit.engine.joining.cement import cure_time
from fieldkit.engine.joining.cure_clock import (
    Spell,
    by_coldest,
    coldest_f,
    elapsed,
    out_of_table,
    slower,
)
from fieldkit.engine.problems import OutOfRange, Problem


def half_inch(temperature_f: float) -> float:
    return cure_time("1/2", temperature_f, 50.0, 100.0).minutes


def minute_by_minute(spells, until):
    """The same rule by brute force: add one minute's share at a time."""
    share, minute = 0.0, 0
    while share < 1 - 1e-9 and minute < until:
        now_f = [s.temperature_f for s in spells if s.from_minutes <= minute][-1]
        share += 0.0 if now_f < 0 else 1 / half_inch(min(now_f, 100.0))
        minute += 1
    return minute if share >= 1 - 1e-9 else None


rows = st.lists(st.tuples(st.integers(1, 300), st.integers(-20, 115)), min_size=1, max_size=8).map(
    lambda steps: tuple(
        Spell(float(sum(s for s, _ in steps[:i])), float(t)) for i, (_, t) in enumerate(steps)
    )
)


@given(rows)
def test_agrees_with_a_minute_by_minute_sum(spells):
    until = spells[-1].from_minutes + 600
    found = elapsed(half_inch, spells, until)
    by_hand = minute_by_minute(spells, until)
    if by_hand is None:
        assert found.minutes is None
        assert found.share < 1
    else:
        assert found.minutes == pytest.approx(by_hand, abs=1.0)


@given(st.integers(0, 100))
def test_a_steady_forecast_is_the_plain_look_up(temperature_f):
    found = elapsed(half_inch, [Spell(-30.0, float(temperature_f))], 5000.0)
    assert found.minutes == pytest.approx(half_inch(float(temperature_f)))


@given(rows)
def test_lies_between_the_warmest_and_the_coldest_look_up(spells):
    assume(coldest_f(spells) >= 0)
    found = elapsed(half_inch, spells, spells[-1].from_minutes + 5000)
    assert found.minutes is not None
    warmest = min(100.0, max(s.temperature_f for s in spells))
    slow = half_inch(min(100.0, coldest_f(spells)))
    assert half_inch(warmest) - 1e-6 <= found.minutes <= slow + 1e-6


@given(rows, st.integers(0, 7), st.integers(1, 60))
def test_a_colder_row_never_makes_it_sooner(spells, which, colder):
    i = which % len(spells)
    chilled = list(spells)
    chilled[i] = Spell(spells[i].from_minutes, spells[i].temperature_f - colder)
    until = spells[-1].from_minutes + 5000
    plain, cold = elapsed(half_inch, spells, until), elapsed(half_inch, chilled, until)
    if cold.minutes is not None:
        assert plain.minutes is not None
        assert plain.minutes <= cold.minutes + 1e-6
    assert plain.share >= cold.share - 1e-9


def test_hours_below_the_schedules_count_nothing():
    spells = [Spell(0, 70), Spell(30, -5), Spell(600, 70)]
    assert elapsed(half_inch, spells, 2000).minutes == pytest.approx(630)
    assert out_of_table(spells) == (True, False)


def test_hours_above_the_schedules_count_as_the_warmest_band():
    spells = [Spell(0, 70), Spell(30, 120)]
    assert elapsed(half_inch, spells, 2000).minutes == pytest.approx(60)
    assert out_of_table(spells) == (False, True)


def test_a_forecast_that_ends_first_says_how_far_it_came():
    found = elapsed(half_inch, [Spell(0, 70), Spell(30, 35)], 150.0)
    assert found.minutes is None
    assert found.share == pytest.approx(0.5 + 120 / 480)
    # A quarter is missing: two more hours at the coldest, whose whole need is eight.
    assert found.minutes_if_coldest == pytest.approx(150 + 120)


def test_rows_before_the_joint_count_from_the_joint_only():
    spells = [Spell(-300, 10), Spell(-60, 70), Spell(30, 35)]
    assert elapsed(half_inch, spells, 2000).minutes == pytest.approx(30 + 240)
    assert coldest_f(spells) == 35


@pytest.mark.parametrize(
    ("spells", "until", "wrong"),
    [
        ([], 100, "says nothing about the time when the joint was made"),
        ([Spell(5, 70)], 100, "says nothing about the time when the joint was made"),
        ([Spell(0, 70), Spell(0, 60)], 100, "does not come after the one before"),
        ([Spell(0, 70), Spell(60, 60), Spell(30, 50)], 100, "does not come after the one before"),
    ],
)
def test_a_forecast_out_of_order_is_told(spells, until, wrong):
    with pytest.raises(Problem, match=wrong):
        elapsed(half_inch, spells, until)


@pytest.mark.parametrize("until", [0.0, 60.0, float("nan")])
def test_a_forecast_must_reach_past_its_last_row(until):
    with pytest.raises(OutOfRange, match=r"is not above|not a finite"):
        elapsed(half_inch, [Spell(0, 70), Spell(60, 60)], until)


def coldest_met(spells, until, made_f):
    """The published rule by brute force: each minute, is the coldest so far cured by now?"""
    coldest = made_f
    for minute in range(int(until) + 1):
        if minute >= half_inch(min(100.0, coldest)):
            return minute
        now_f = [s.temperature_f for s in spells if s.from_minutes <= minute][-1]
        coldest = min(coldest, now_f)
    return None


@given(rows, st.integers(0, 100))
def test_the_published_rule_minute_by_minute(spells, made_f):
    assume(coldest_f(spells) >= 0)
    until = spells[-1].from_minutes + 900
    found = by_coldest(half_inch, spells, until, float(made_f)).minutes
    by_hand = coldest_met(spells, until, float(made_f))
    assert (found is None) == (by_hand is None)
    if found is not None:
        assert found == pytest.approx(by_hand, abs=1.0)


@given(rows, st.integers(0, 100))
def test_what_rules_is_never_sooner_than_the_published_rule(spells, made_f):
    until = spells[-1].from_minutes + 5000
    ours = elapsed(half_inch, spells, until)
    published = by_coldest(half_inch, spells, until, float(made_f))
    both = slower(ours, published)
    assert both.minutes_if_coldest >= max(ours.minutes_if_coldest, published.minutes_if_coldest)


def test_after_frost_under_the_schedules_the_coldest_band_is_counted_anew():
    # Schedule B, 1/2 in, 0 to 40 °F, up to 180 psi: 8 h, from the end of the frost.
    spells = [Spell(0, 70), Spell(30, -5), Spell(600, 70)]
    assert by_coldest(half_inch, spells, 2000, 70.0).minutes == pytest.approx(600 + 480)
