"""Break-even of two ways to make a joint, held to figures worked by hand."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldkit.engine.choosing.break_even import BreakEven, break_even_joints
from fieldkit.engine.choosing.fit import Tube
from fieldkit.engine.choosing.transition import Need, transition
from fieldkit.flows.choosing.prices import demo_prices

BASE = Need("1/2", tube=Tube(0.700, 0.600), prices=demo_prices())
READY_MADE = "ring_coupling_0500_0700"
GLUED_RING = "coupling_0500+ring_insert_0500_0700"
PUSH_FIT = "grip_fipt_0500+mipt_collar_0500_0620_0710"
CEMENTED = "female_adapter_0500_0500+mipt_collar_0500_0620_0710"

# Worked by hand: saving a joint [$], extra minutes, one-off cost [$], pay [$/h], N* to a hundredth.
BY_HAND = [
    (3.15 - 1.675, 2.5, 2.0, 0.0, 1.36),  # ready-made ring coupling against a glued ring
    (7.00 - 1.025, 2.0, 14.0, 0.0, 2.34),  # push-fit end against a cemented one, cans bought
    (7.00 - 1.025, 2.0, 14.0, 60.0, 3.52),
    (7.00 - 1.025, 2.0, 14.0 + 30.0, 30.0, 8.84),  # the crew waits an hour for the cure
    (7.00 - 1.025, 2.0, 14.0 + 60.0, 60.0, 18.62),
]


@pytest.mark.parametrize(("saved", "extra", "one_off", "pay", "joints"), BY_HAND)
def test_the_formula_gives_what_was_worked_by_hand(saved, extra, one_off, pay, joints):
    found = break_even_joints(saved, extra, one_off, pay)
    assert found == pytest.approx(joints, abs=0.005)


@pytest.mark.parametrize(
    ("saved", "extra", "pay_limit"),
    [
        (3.15 - 1.675, 2.5, 35.40),  # glued ring stops paying
        (2.10 - 2.025, 1.5, 3.00),  # clamped barb against a locking nut
        (2.10 - 0.925, 0.5, 141.0),  # bare barb against a locking nut
    ],
)
def test_above_a_pay_the_longer_work_never_pays(saved, extra, pay_limit):
    assert break_even_joints(saved, extra, 1.0, pay_limit * 0.99) is not None
    assert break_even_joints(saved, extra, 1.0, pay_limit * 1.01) is None


def pair(need: Need, few: str, many: str) -> BreakEven:
    (one,) = [one for one in transition(need).break_even if (one.few, one.many) == (few, many)]
    return one


def test_a_glued_ring_pays_from_the_second_joint():
    answer = transition(BASE)
    one = pair(BASE, READY_MADE, GLUED_RING)
    assert (one.count, answer.break_even_count) == (2, 2)
    assert one.exact == pytest.approx(1.36, abs=0.005)
    assert one.labour_limit == pytest.approx(35.40, abs=0.005)
    assert "From 2 joints on" in one.how


def test_a_paid_crew_buys_the_ready_made_one():
    one = pair(replace(BASE, labour_per_hour=36.0), READY_MADE, GLUED_RING)
    assert one.count is None
    assert "stays cheaper" in one.how


@pytest.mark.parametrize(
    ("pay", "wait_cost", "from_joint"), [(0, 0, 3), (60, 0, 4), (30, 30, 9), (60, 60, 19)]
)
def test_cement_pays_from_the_third_joint_or_much_later_where_a_crew_waits(
    pay, wait_cost, from_joint
):
    wants = frozenset({"reusable", "easy_hands"})
    need = replace(BASE, labour_per_hour=pay, wait_cost=wait_cost, wants=wants)
    assert pair(need, PUSH_FIT, CEMENTED).count == from_joint


def test_without_prices_there_is_no_break_even():
    answer = transition(replace(BASE, prices=None))
    assert (answer.break_even, answer.break_even_count) == ((), None)


@given(st.floats(0.01, 50), st.floats(0, 10), st.floats(0, 50), st.floats(0, 60))
def test_at_break_even_both_ways_cost_the_same(saved, extra, one_off, pay):
    joints = break_even_joints(saved, extra, one_off, pay)
    if joints is None:
        assert saved <= pay * extra / 60 + 1e-9
        return
    left, right = joints * saved, one_off + joints * pay * extra / 60
    assert left == pytest.approx(right, rel=1e-6, abs=1e-6)
