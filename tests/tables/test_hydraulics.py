"""The hydraulic figures: unique, sane, and the printed ones as printed."""

import math

import pytest

from fieldkit.tables import hydraulics as table
from fieldkit.tables.load import BadTable


def test_the_table_keeps_its_own_rules():
    table.check()
    assert len(table.hydraulics()) > 30


@pytest.mark.parametrize(
    ("row", "printed"),
    [
        # NRCS 430 and Illinois Administrative Code 77 part 906: C of PVC.
        ("c_pvc", 150),
        # NRCS Missouri Livestock Watering Systems Handbook, ch. 5, citing ASAE S376.1.
        ("surge_unknown_share", 0.72),
        # EP405 as quoted in public pages.
        ("eu_constant", 1.27),
    ],
)
def test_printed_figures(row, printed):
    assert table.figure(row) == printed


def test_derived_constants():
    assert table.figure("flow_constant") == pytest.approx(231 / (60 * 12 * math.pi / 4), rel=1e-6)
    assert table.figure("gravity") == pytest.approx(9.80665 / 0.3048, rel=1e-5)
    # 1 psi under water of 62.4 lb/ft³.
    assert table.figure("feet_per_psi") == pytest.approx(144 / 62.4, rel=0.001)


def test_a_bad_table_is_named_by_line(monkeypatch):
    rows = list(table.load("hydraulics", table.Hydraulic))
    monkeypatch.setattr(table, "load", lambda name, kind: (*rows, rows[0]))
    with pytest.raises(BadTable, match="is there twice"):
        table.check()
