"""What to buy for many joints."""

from dataclasses import replace
from math import ceil

import pytest

from fieldkit.engine.choosing.fit import Tube
from fieldkit.engine.choosing.parts_list import packs, parts_list, welds_per_pack
from fieldkit.engine.choosing.transition import Need, transition
from fieldkit.flows.choosing.prices import demo_prices
from fieldkit.tables.fittings import sundries

PRICES = demo_prices()
GLUED = frozenset({"coupling_0500", "ring_insert_0500_0700"})
NEED = Need("1/2", tube=Tube(0.700, 0.600), prices=PRICES, only=GLUED)


def assembly(need: Need):
    (one,) = transition(need).assemblies
    return one


@pytest.mark.parametrize(
    ("nominal", "joints"), [("1/2", 30), ("3/4", 25), ("1", 15), ("1-1/4", 11)]
)
def test_a_small_pack_of_cement_spoils_or_runs_out(nominal, joints):
    # A supplier's table: 300, 200, 125 and (1½ in) 90 joints a quart; a quarter pint is an
    # eighth of a quart. The trade counts on 30 half-inch joints before an opened can spoils.
    assert welds_per_pack(sundries()["sundry_primer_cement"], nominal) == joints


@pytest.mark.parametrize("count", [1, 15, 16, 40])
def test_parts_and_packs_for_many_joints(count):
    one = assembly(NEED)
    listed = parts_list(one, count, PRICES)
    assert {line.id: line.count for line in listed.parts} == dict.fromkeys(GLUED, count)
    (cement,) = listed.sundries
    assert cement.count == ceil(2 * count / 30)  # two half-inch welds a joint
    # 0.725 + 0.95 a joint and 14.00 a pair of cans, the demo's invented list.
    assert listed.total == pytest.approx(1.675 * count + 14.0 * cement.count)
    assert listed.minutes == pytest.approx(7.0 * count)


def test_tape_is_counted_by_its_threads():
    parts = frozenset({"female_adapter_0500_0500", "mipt_collar_0500_0620_0710"})
    one = assembly(replace(NEED, only=parts))
    assert packs("sundry_tape", one, 60) == 1
    assert packs("sundry_tape", one, 61) == 2


def test_a_missing_price_leaves_the_total_open():
    one = assembly(NEED)
    listed = parts_list(one, 3, {"coupling_0500": 1.0})
    assert listed.total is None
    assert {line.id: line.cost for line in listed.parts} == {
        "coupling_0500": 3.0,
        "ring_insert_0500_0700": None,
    }


def test_a_stub_of_pipe_costs_nothing_beside_prices():
    parts = {"redcoupling_0750_0500", "dual_collar_0750_0620_0710_over"}
    one = assembly(replace(NEED, only=frozenset(parts)))
    listed = parts_list(one, 2, PRICES)
    assert {line.id: line.cost for line in listed.parts}["pipe_stub"] == 0.0
