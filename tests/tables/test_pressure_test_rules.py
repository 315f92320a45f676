"""Rules of a pressure test: sourced, sane, and as printed where they are printed."""

from itertools import pairwise

from fieldkit.tables.materials import heat_factors, materials, slow_stretch, water
from fieldkit.tables.proving_rules import proving_rules, proving_value


def test_no_rule_is_nothing():
    assert all(rule.value > 0 for rule in proving_rules().values())


def test_a_foot_of_water():
    # 62.4 lb per cubic foot over 144; the municipal form prints 0.434.
    assert abs(proving_value("psi_per_ft") - 62.4 / 144) < 0.0005


def test_holds_grow_with_what_is_at_stake():
    drip, lateral, main = (proving_value(f"hold_{use}_min") for use in ("drip", "lateral", "main"))
    assert proving_value("hold_least_min") < drip < lateral < main


def test_heat_series_fall_from_one():
    for rows in heat_factors().values():
        assert rows[0].factor == 1.0
        assert all(a.factor >= b.factor for a, b in pairwise(rows))
        assert all(a.temperature_f < b.temperature_f for a, b in pairwise(rows))


def test_every_material_names_a_heat_series_we_have():
    for row in materials().values():
        assert row.heat == "" or row.heat in heat_factors()


def test_every_stiffness_has_its_spread():
    # ASTM D1784: 400,000 psi at least for the common PVC; suppliers print 420,000.
    for row in materials().values():
        assert (row.modulus_psi is None) == (row.id not in slow_stretch())
    for slow in slow_stretch().values():
        assert 0 <= slow.stretch_low <= slow.stretch_high < 1
    pvc = materials()["pvc"].modulus_psi
    assert pvc * (1 + slow_stretch()["pvc"].modulus_share) >= 420_000


def test_the_water_grid_is_even():
    steps = {b.temperature_f - a.temperature_f for a, b in pairwise(water())}
    assert steps == {4.0}


def test_growth_of_pvc_spans_what_is_printed():
    # A general engineering reference site: 2 in. PVC, 300 ft, 70 to 140 °F: 7.1 in. A supplier
    # prints 3/8 in. per 100 ft for each 10 °F, and "about 20 in." for 1000 ft from 90 to 40 °F.
    pvc = materials()["pvc"]
    low, high = (pvc.alpha_per_f + sign * pvc.alpha_half_width_per_f for sign in (-1, 1))
    for inches, length_ft, change_f in ((7.1, 300, 70), (0.375, 100, 10), (20.0, 1000, 50)):
        assert low <= inches / (length_ft * 12 * change_f) <= high
