"""Stored energy against worked figures and a numerical integral."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from support.shut_in import swelling

from fieldkit.engine.pressure_test.line_stiffness import Segment, ShutInLine, line_of
from fieldkit.engine.pressure_test.stored_energy import (
    air_energy_ft_lbf,
    stored_energy,
    water_energy_ft_lbf,
)
from fieldkit.engine.problems import OutOfRange
from fieldkit.tables.materials import materials

TWO_INCH_100_FT = line_of([Segment("2", materials()["pvc"], 2.067, 0.154, 100.0)], "buried")


def test_the_worked_line():
    # Worked apart: 100 ft of 2 in. Sch 40 (2.33 cu ft) at 100 psig: air 42,700 ft·lbf,
    # 57.9 kJ, 12.5 g TNT at 4.62 kJ/g (UC Berkeley EHS). Water and a thin wall 57 ft·lbf, 77 J,
    # 750 ×; P² V/(2 Keff) with the wall solved by displacements is 84 J.
    energy = stored_energy(TWO_INCH_100_FT, 100.0, 68.0)
    assert TWO_INCH_100_FT.volume_in3 / 1728 == pytest.approx(2.33, abs=0.005)
    assert air_energy_ft_lbf(TWO_INCH_100_FT.volume_in3 / 1728, 100.0) == pytest.approx(
        42_700, abs=50
    )
    assert energy.air_j / 1000 == pytest.approx(57.9, abs=0.05)
    assert energy.air_tnt_g == pytest.approx(12.5, abs=0.05)
    give = swelling(2.067, 0.154, 0.38, "buried") / 400_000 + 1 / 316_600
    water_j = 100.0**2 / 2 * give * 144 * 2.33 * 1.3558
    assert energy.water_j == pytest.approx(water_j, rel=0.002)
    assert energy.ratio == pytest.approx(57_900 / water_j, abs=5)


@given(st.floats(0.01, 50.0), st.floats(1.0, 500.0))
def test_air_is_the_work_of_an_adiabatic_expansion(volume_ft3, pressure_psi):
    # W = ∫ p dV from the line's volume until the air is back at 14.7 psi, with p V^1.4 constant.
    start = (pressure_psi + 14.7) * 144
    end_volume = volume_ft3 * (start / (14.7 * 144)) ** (1 / 1.4)
    work, _ = quad(lambda v: start * (volume_ft3 / v) ** 1.4, volume_ft3, end_volume)
    assert air_energy_ft_lbf(volume_ft3, pressure_psi) == pytest.approx(work, rel=1e-6)


@given(st.floats(0.01, 50.0), st.floats(1.0, 500.0), st.floats(1e3, 3e5))
def test_water_is_the_area_under_a_straight_line(volume_ft3, pressure_psi, stiffness):
    work, _ = quad(lambda psi: psi / stiffness * volume_ft3 * 144, 0, pressure_psi)
    assert water_energy_ft_lbf(volume_ft3, pressure_psi, stiffness) == pytest.approx(work)


@given(st.floats(10.0, 300.0))
def test_air_always_stores_far_more(pressure_psi):
    assert stored_energy(TWO_INCH_100_FT, pressure_psi, 68.0).ratio > 100


def test_no_pressure_stores_nothing():
    assert stored_energy(ShutInLine(100.0, 0.0, 0.0, 1e-5), 0.0, 68.0).ratio == 0.0


def test_a_vacuum_is_refused():
    with pytest.raises(OutOfRange, match="under 0"):
        air_energy_ft_lbf(1.0, -1.0)
