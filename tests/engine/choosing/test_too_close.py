"""No way is called the best that holds the pressure with no room to spare."""

from dataclasses import replace

import pytest

from fieldkit.engine.choosing.fit import Tube
from fieldkit.engine.choosing.rules import Need
from fieldkit.engine.choosing.transition import transition
from fieldkit.engine.hydraulics.hold import HeldJoint, hold

BASE = Need("1/2", tube=Tube(0.700, 0.600))


@pytest.mark.parametrize("surge", [None, 0.0, 5.0])
@pytest.mark.parametrize("psi", range(5, 61, 5))
def test_transition_and_hold_call_the_same_pressures_too_close(psi, surge):
    answer = transition(replace(BASE, pressure_psi=psi + (surge or 0.0), surge_psi=surge))
    for one in answer.assemblies:
        weakest = hold(
            (HeldJoint(one.weakest, rating_psi=one.holds_psi),),
            static_psi=psi,
            surge_psi=surge,
            temperature_f=73.0,
        )
        assert one.roomy == (weakest.verdict == "holds")
    # NRCS Missouri, chapter 5 (ASAE S376.1): 0.72 of the rating where surge is not worked out.
    if answer.headline.startswith("The best way"):
        assert psi <= 0.72 * answer.assemblies[0].holds_psi or surge is not None


def test_what_holds_just_so_much_is_not_the_best_way():
    answer = transition(replace(BASE, pressure_psi=60.0))
    assert (answer.verdict, answer.assemblies[0].roomy) == ("marginal", False)
    assert answer.headline.startswith("Too close: the strongest way here holds 60 psi")
    assert "needs 84 psi" in answer.headline  # 60 / 0.72 = 83.3
    assert "regulator to 43 psi or less" in answer.headline  # 0.72 × 60 = 43.2


def test_what_has_room_stands_before_what_has_none():
    roomy = [one.roomy for one in transition(replace(BASE, pressure_psi=40.0)).assemblies]
    assert roomy[0]
    assert roomy == sorted(roomy, reverse=True)
    assert not all(roomy)
