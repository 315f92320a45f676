"""The measuring tables: their rules, and gauges against sizes that others print."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from fieldkit.tables import measuring
from fieldkit.tables.load import BadTable


def test_the_tables_keep_their_rules():
    measuring.check()


def test_the_rules_are_enforced(monkeypatch):
    row = measuring.uncertainty()["caliper_step"]
    monkeypatch.setattr(measuring, "uncertainty", lambda: {"a": replace(row, value=0.0)})
    with pytest.raises(BadTable, match="must be above 0"):
        measuring.check()


@pytest.mark.parametrize("gauge", measuring.gauges(), ids=lambda gauge: gauge.id)
def test_a_gauge_spans_what_it_lets_by_and_what_it_stops(gauge):
    def inches(size: str) -> float:
        number, _, unit = size.partition(" ")
        return float(Fraction(number)) / (25.4 if unit == "mm" else 1)

    if gauge.kind == "drill":
        assert (inches(gauge.goes), inches(gauge.stops)) == (gauge.low_in, gauge.high_in)
    if gauge.kind == "wrench":  # printed to four decimals
        assert inches(gauge.goes) == pytest.approx(gauge.high_in, abs=0.00005)
        assert inches(gauge.stops) == pytest.approx(gauge.low_in, abs=0.00005)


# Diameters as the mints publish them: US dime, nickel, quarter; euro 2 and 5 cent.
@pytest.mark.parametrize(
    ("coin", "mint_mm"),
    [
        ("coin-10c-us", 17.91),
        ("coin-5c-us", 21.21),
        ("coin-25c-us", 24.26),
        ("coin-2c-euro", 18.75),
        ("coin-5c-euro", 21.25),
    ],
)
def test_coins_are_the_mints_diameters(coin, mint_mm):
    gauge = next(one for one in measuring.gauges() if one.id == coin)
    assert gauge.low_in == pytest.approx(mint_mm / 25.4, abs=0.00005)
