"""Loss of strength with heat against printed tables and the interpolation of PPI TR-3."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldkit.engine.heat import heat_factor
from fieldkit.engine.problems import OutOfRange
from fieldkit.tables.materials import heat_factors

# PPFA User Bulletin 3-96; Machinery's Handbook 31e p. 2770 Table 14.
PPFA_PVC = {73: 1.00, 80: 0.88, 90: 0.75, 100: 0.62, 110: 0.50, 120: 0.40, 130: 0.30, 140: 0.22}

# A supplier's derating page: 0.51 at 110 °F and 0.31 at 130 °F.
SUPPLIER_PVC = {110: 0.51, 130: 0.31}

# A distributor's table of Sch 80 PVC, design stress 2000 psi, fittings of 2 in: 404 psi at
# 73 °F, 251 at 100 °F, 162 at 120 °F; printed to 1 psi.
DISTRIBUTOR_2_IN = {73: 404, 100: 251, 120: 162}


@pytest.mark.parametrize(("temperature_f", "printed"), PPFA_PVC.items())
def test_pvc_is_the_printed_row(temperature_f, printed):
    assert heat_factor("pvc", temperature_f).factor == printed


@pytest.mark.parametrize(("temperature_f", "printed"), SUPPLIER_PVC.items())
def test_pvc_agrees_with_a_second_table(temperature_f, printed):
    assert heat_factor("pvc", temperature_f).factor == pytest.approx(printed, abs=0.0101)


@pytest.mark.parametrize(("temperature_f", "printed_psi"), DISTRIBUTOR_2_IN.items())
def test_pvc_agrees_with_a_third_table(temperature_f, printed_psi):
    rating_psi = 2 * 2000 * 0.218 / (2.375 - 0.218)
    ours = rating_psi * heat_factor("pvc", temperature_f).factor
    assert ours == pytest.approx(printed_psi, abs=1)


@pytest.mark.parametrize(
    ("series", "ratio_at_140"), [("pe3608", 800 / 1600), ("pe4710", 1000 / 1600)]
)
def test_polyethylene_is_the_tr_3_interpolation(series, ratio_at_140):
    # PPI TR-3: straight in 1/T between the strengths at 73 and 140 °F.
    for row in heat_factors()[series]:
        kelvin_share = (1 / 533 - 1 / (row.temperature_f + 460)) / (1 / 533 - 1 / 600)
        assert row.factor == pytest.approx(1 - (1 - ratio_at_140) * kelvin_share, abs=0.0006)


def test_between_rows_the_hotter_one_holds():
    assert heat_factor("pvc", 95.0).temperature_f == 100.0


@pytest.mark.parametrize("series", ["pvc", "pe3608", "pe4710"])
def test_hotter_than_the_table_is_not_rated(series):
    with pytest.raises(OutOfRange, match="not rated"):
        heat_factor(series, 140.5)


@given(st.sampled_from(["pvc", "pe3608", "pe4710"]), st.floats(0, 140), st.floats(0, 140))
def test_heat_never_adds_strength(series, one_f, other_f):
    cool, hot = sorted((one_f, other_f))
    assert heat_factor(series, hot).factor <= heat_factor(series, cool).factor
