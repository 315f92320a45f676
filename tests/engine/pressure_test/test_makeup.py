"""Make-up of gasketed PVC against printed allowances."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldkit.engine.pressure_test.makeup import gasketed_makeup_gph
from fieldkit.engine.problems import OutOfRange

# A PVC pressure-pipe maker's test sheet (name withheld): gph for 50 joints, by trade size [in],
# at 50, 100, 150 and 200 psi; printed to 0.01.
MAKER_50_JOINTS = {
    1.5: (0.07, 0.10, 0.12, 0.14),
    2.0: (0.10, 0.14, 0.17, 0.19),
    2.5: (0.12, 0.17, 0.21, 0.24),
    3.0: (0.14, 0.20, 0.25, 0.29),
    4.0: (0.19, 0.27, 0.33, 0.38),
    6.0: (0.29, 0.41, 0.50, 0.57),
    8.0: (0.38, 0.54, 0.66, 0.76),
}


@pytest.mark.parametrize("diameter_in", MAKER_50_JOINTS)
@pytest.mark.parametrize(("column", "pressure_psi"), list(enumerate((50, 100, 150, 200))))
def test_the_maker_s_sheet(diameter_in, column, pressure_psi):
    printed = MAKER_50_JOINTS[diameter_in][column]
    assert gasketed_makeup_gph(50, diameter_in, pressure_psi) == pytest.approx(printed, abs=0.006)


def test_the_same_rule_by_length():
    # A worked line in an engineering forum, quoting AWWA C600: 2 h, 5710 ft, 8 in., 160 psi,
    # L D √P / 148,000 gph: 7.81 gal. With a joint each 20 ft it is the same rule.
    hours, length_ft = 2, 5710
    by_length = hours * length_ft * 8 * 160**0.5 / 148_000
    assert by_length == pytest.approx(7.81, abs=0.01)
    per_joint = gasketed_makeup_gph(1, 8.0, 160.0)
    assert hours * per_joint * length_ft / 20 == pytest.approx(7.81, abs=0.01)


def test_a_negative_count_is_refused():
    with pytest.raises(OutOfRange, match="under 0"):
        gasketed_makeup_gph(-1, 2.0, 100.0)


@given(st.integers(0, 500), st.floats(0.5, 12.0), st.floats(0.0, 300.0))
def test_twice_the_joints_twice_the_water(joints, diameter_in, pressure_psi):
    one = gasketed_makeup_gph(joints, diameter_in, pressure_psi)
    assert gasketed_makeup_gph(2 * joints, diameter_in, pressure_psi) == pytest.approx(2 * one)
