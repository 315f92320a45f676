"""The joining tables: their own rules, and that a broken row is told."""

from dataclasses import replace

import pytest

from fieldkit.tables import joining, threads
from fieldkit.tables.load import BadTable


def test_the_joining_tables_keep_their_rules():
    joining.check()


def test_the_thread_tables_keep_their_rules():
    threads.check()


def test_both_schedules_cover_every_band():
    for rows in (joining.set_times(), joining.cure_times()):
        bands = {(r.schedule, r.coldest_f, r.warmest_f) for r in rows}
        assert bands == {(s, *b) for s in "AB" for b in ((0, 40), (40, 60), (60, 100))}


def test_a_cold_band_that_cures_faster_is_told(monkeypatch):
    rows = tuple(
        replace(r, minutes=1.0) if r.schedule == "A" and r.coldest_f == 0 else r
        for r in joining.cure_times()
    )
    monkeypatch.setattr(joining, "cure_times", lambda: rows)
    with pytest.raises(BadTable, match=r"cure_times\.csv .* is less than in a warmer band"):
        joining.check()


def test_a_gap_between_pressures_is_told(monkeypatch):
    rows = tuple(
        replace(r, over_psi=200.0) if r.over_psi == 180 else r for r in joining.cure_times()
    )
    monkeypatch.setattr(joining, "cure_times", lambda: rows)
    with pytest.raises(BadTable, match="leaves a gap above the pressure band before it"):
        joining.check()


def test_a_socket_that_cannot_grip_is_told(monkeypatch):
    loose = {k: replace(s, bottom_in=s.pipe_od_in + 0.01) for k, s in joining.sockets().items()}
    monkeypatch.setattr(joining, "sockets", lambda: loose)
    with pytest.raises(BadTable, match="does not lie between the socket's bottom"):
        joining.check()


def test_a_thread_off_the_taper_is_told(monkeypatch):
    bad = {
        k: replace(t, pitch_dia_end_in=0.7) if k == "npt-1/2" else t
        for k, t in threads.threads().items()
    }
    monkeypatch.setattr(threads, "threads", lambda: bad)
    with pytest.raises(BadTable, match="is not E1 − L1/16"):
        threads.check()


# ASME B1.20.1 states its taper thread by two formulas on the pipe's outside diameter D and the
# pitch p: E0 = D − (0.05 D + 1.1) p and L2 = (0.80 D + 6.8) p. Printed to 5 and 4 decimals.
@pytest.mark.parametrize("size", sorted(threads.taper_threads()))
def test_taper_threads_agree_with_the_formulas_of_b1_20_1(size):
    row = threads.taper_threads()[size]
    assert row.major_od_in is not None
    pitch_in = 1 / row.tpi
    e0_in = row.major_od_in - (0.05 * row.major_od_in + 1.1) * pitch_in
    assert row.pitch_dia_end_in == pytest.approx(e0_in, abs=2e-5)
    l2_in = (0.80 * row.major_od_in + 6.8) * pitch_in
    assert row.effective_length_in == pytest.approx(l2_in, abs=1e-4)


# 60° sharp-V geometry of ASME B1.20.7: pitch diameter = major − thread height 0.6495 p.
def test_hose_thread_agrees_with_its_thread_height():
    row = threads.threads()["hose-male"]
    assert row.major_od_in is not None
    assert row.pitch_dia_end_in == pytest.approx(row.major_od_in - 0.6495 / 11.5, abs=5e-5)
