"""The water grid against IAPWS-95, worked by a package that we did not write."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from iapws import IAPWS95

from fieldkit.engine.problems import OutOfRange
from fieldkit.engine.water import water_at
from fieldkit.tables.materials import water

PA_PER_PSI = 6894.757293168
MPA_AT_100_PSIG = 114.696 * PA_PER_PSI / 1e6


def iapws_at(temperature_f, pressure_mpa=MPA_AT_100_PSIG):
    return IAPWS95(T=(temperature_f + 459.67) / 1.8, P=pressure_mpa)


def bulk_modulus_psi(state):
    return 1e6 / state.kappa / PA_PER_PSI


@pytest.mark.parametrize("row", water(), ids=lambda row: f"{row.temperature_f:.0f}F")
def test_each_row_is_iapws_95(row):
    state = iapws_at(row.temperature_f)
    # Half the last digit that the table prints, and a hair for the two constants of 100 psig.
    assert row.density_kg_m3 == pytest.approx(state.rho, abs=0.0006)
    assert row.bulk_modulus_psi == pytest.approx(bulk_modulus_psi(state), abs=1.0)
    assert row.expansion_per_f == pytest.approx(state.alfav / 1.8, abs=1e-8)
    assert row.kinematic_viscosity_m2_s == pytest.approx(state.nu, rel=1e-4)


@pytest.mark.parametrize("temperature_f", [38.0, 45.5, 58.5, 70.0, 86.0, 101.0, 138.0])
def test_between_rows_straight_lines_are_close_to_iapws_95(temperature_f):
    ours, state = water_at(temperature_f), iapws_at(temperature_f)
    assert ours.density_kg_m3 == pytest.approx(state.rho, abs=0.02)
    assert ours.bulk_modulus_psi == pytest.approx(bulk_modulus_psi(state), rel=3e-4)
    # 2e-7 per °F over 5 °F at 29,400 psi is 0.03 psi: under any gauge.
    assert ours.expansion_per_f == pytest.approx(state.alfav / 1.8, abs=2e-7)
    assert ours.kinematic_viscosity_m2_s == pytest.approx(state.nu, rel=2e-3)


def test_compressibility_agrees_with_a_pressure_vessel_manual():
    # University of Washington pressure-vessel manual, node 27: 3.17e-6 per psi at 20 °C, 1 atm.
    assert 1 / water_at(68.0).bulk_modulus_psi == pytest.approx(3.17e-6, rel=0.005)


@pytest.mark.parametrize("temperature_f", [35.9, 140.1, float("nan")])
def test_outside_the_grid_is_an_error(temperature_f):
    with pytest.raises(OutOfRange, match=r"°F|finite") as caught:
        water_at(temperature_f)
    assert caught.value.field == "temperature"


@given(st.floats(36.0, 139.0), st.floats(0.01, 1.0))
def test_warmer_water_swells_more(temperature_f, step_f):
    assert (
        water_at(temperature_f + step_f).expansion_per_f > water_at(temperature_f).expansion_per_f
    )
