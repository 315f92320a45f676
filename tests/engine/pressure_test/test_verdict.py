"""Verdicts on shut-in tests, against worked figures and common sense."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldkit.engine.pressure_test.figures import HeldLine, Reading
from fieldkit.engine.pressure_test.line_stiffness import Segment
from fieldkit.engine.pressure_test.verdict import judge_line
from fieldkit.engine.problems import OutOfRange, Problem
from fieldkit.tables.materials import materials

PVC, PE = materials()["pvc"], materials()["pe"]
TWO_INCH = Segment("2 in. Sch 40", PVC, 2.067, 0.154, 300.0)
PE_ONE_INCH = Segment("1 in. SIDR 15", PE, 1.049, 0.070, 300.0)


def judge(
    start=100.0, end=100.0, minutes=60.0, start_f=68.0, end_f=68.0, *, segments=(TWO_INCH,), **more
):
    facts = {"restraint": "buried", "visible_leak": False, "gauge_division_psi": 1.0} | more
    readings = facts.pop("readings", None) or (
        Reading(0.0, start, start_f),
        Reading(minutes, end, end_f),
    )
    return judge_line(HeldLine(segments=segments, readings=readings, **facts))


# Worked apart: 2 in. Sch 40 buried at 100 psi; 68 → 78 °F gives 114.2, 58 °F gives 95.4, and
# 50 → 60 °F gives 96.1.
@pytest.mark.parametrize(
    ("start_f", "end_f", "tight_psi"), [(68, 78, 114.2), (68, 58, 95.4), (50, 60, 96.1)]
)
def test_expected_change(start_f, end_f, tight_psi):
    found = judge(end=tight_psi, start_f=start_f, end_f=end_f)
    assert found.expected_change_psi == pytest.approx(tight_psi - 100, abs=0.06)
    assert found.unexplained_drop_psi == pytest.approx(0.0, abs=0.06)
    assert found.verdict == "repeat"  # ten degrees are too many, however well it fits
    assert found.reason == "temperature swing"


def test_leak_size():
    # Worked apart: 300 ft, 100 to 95 psi is 33.7 mL, over an hour about 0.6 mL/min, 11 drops/min.
    found = judge(end=95.0)
    assert found.verdict == "leaks"
    assert found.leak_ml_per_min == pytest.approx(33.7 / 60, abs=0.001)
    drops = next(line for line in found.working if line.name == "size of the leak").inputs["drops"]
    assert str(drops) == "11 a minute"


def test_trapped_air_makes_the_same_fall_a_bigger_leak():
    # Worked apart: with 1 % of air 45.2 mL; 673 mL should lift the line, 1 % of air adds 1726 mL.
    found = judge(end=95.0, pumped_ml=673.0 + 1726.0)
    assert found.air_share == pytest.approx(0.01, abs=1e-4)
    assert found.leak_ml_per_min == pytest.approx(45.2 / 60, abs=0.002)
    assert any("vent it" in one for one in found.cautions)


def test_holding_steady_holds():
    found = judge(end=99.0)
    assert (found.verdict, found.reason) == ("holds", "explained")
    assert found.allowance_psi == 2.0


def test_a_fall_that_cooling_explains_holds():
    # 68 → 65 °F explains about 2.6 psi; the gauge lost 3.
    found = judge(end=97.0, end_f=65.0)
    assert found.verdict == "holds"
    assert found.expected_change_psi == pytest.approx(-2.4, abs=0.3)


def test_warming_that_hides_a_leak_is_caught():
    # Warmed by 4 °F it should have risen about 4.5 psi; it stood still.
    assert judge(end=100.0, start_f=72.0, end_f=76.0).verdict == "leaks"


def test_a_cold_line_that_warms_is_not_called_leaking():
    # Worked apart: below about 58 °F PVC outgrows its water, and warming lowers the gauge.
    assert judge(end=95.0, start_f=45.0, end_f=49.5).verdict == "holds"
    assert judge(end=95.0, start_f=45.0, end_f=45.0).verdict == "leaks"


def test_seen_water_ends_the_matter():
    assert judge(visible_leak=True).verdict == "leaks"
    blind = judge(visible_leak=True, start_f=None, end_f=None)
    assert (blind.verdict, blind.leak_ml_per_min) == ("leaks", None)


def test_without_water_temperature_it_is_repeated():
    found = judge(start_f=None)
    assert (found.verdict, found.reason) == ("repeat", "no water temperature")
    assert found.expected_change_psi is None
    assert found.unexplained_drop_psi is None


def test_a_rise_is_repeated():
    found = judge(end=104.0)
    assert (found.verdict, found.reason) == ("repeat", "rise")


def test_nobody_looked_is_repeated():
    assert judge(looked=False).verdict == "repeat"
    assert judge(looked=False, end=90.0).verdict == "leaks"


@pytest.mark.parametrize("minutes", [5.0, 14.0])
def test_a_short_hold_proves_nothing(minutes):
    assert judge(minutes=minutes).reason == "short hold"


def test_a_hold_that_could_not_show_a_leak_is_repeated():
    # 300 ft of 4 in. on a gauge of 5 psi marks: 10 psi may go unseen, tens of mL a minute.
    long_line = Segment("4 in. Sch 40", PVC, 4.026, 0.237, 3000.0)
    found = judge(segments=(long_line,), gauge_division_psi=5.0)
    assert (found.verdict, found.reason) == ("repeat", "cannot see a leak")
    by_hand = 3785.41 * (3.14159 / 4 * 4.026**2 * 3000 * 12 / 231) * 10 / found.stiffness_psi / 60
    assert found.detectable_leak_ml_per_min == pytest.approx(by_hand, rel=1e-4)


def test_trapped_air_alone_is_repeated():
    assert judge(pumped_ml=673.0 + 1726.0).reason == "trapped air"
    assert judge(pumped_ml=673.0 + 172.6).verdict == "holds"


# ── Polyethylene ─────────────────────────────────────────────────────────────────────────────


def test_creep_of_polyethylene():
    # Worked apart: 1 in. SIDR 15, modulus 110,000 → 90,000 psi: 100 psi becomes 82, none lost.
    found = judge(end=82.0, segments=(PE_ONE_INCH,), restraint="free")
    assert found.creep_drop_low_psi == pytest.approx(18.0, abs=0.3)
    assert (found.verdict, found.reason) == ("repeat", "polyethylene stretches")
    assert any("4 h" in one for one in found.cautions)


def test_mixed_line_is_not_judged_by_the_pvc_rule():
    found = judge(end=93.0, segments=(TWO_INCH, PE_ONE_INCH))
    assert found.verdict == "repeat"


def test_the_f2164_way():
    # ASTM F2164, from memory: after the expansion phase, 5 % in one hour.
    pe = {"segments": (PE_ONE_INCH,), "restraint": "free", "expansion_phase": True}
    assert judge(end=96.0, **pe).verdict == "holds"
    assert judge(end=92.0, **pe).verdict == "leaks"
    assert judge(end=96.0, minutes=40.0, **pe).verdict == "repeat"
    assert judge(end=92.0, minutes=300.0, **pe).verdict == "repeat"


def test_a_fall_past_all_creep_leaks():
    assert judge(end=20.0, segments=(PE_ONE_INCH,), restraint="free").verdict == "leaks"


# ── Gasketed ─────────────────────────────────────────────────────────────────────────────────


def test_gaskets_may_seep():
    # AWWA C605: 15 joints of 2 in. at about 98 psi: 15 × 2 × √97.5 / 7400 gph = 0.040 gph,
    # 2.5 mL/min; the fall of 5 psi is 0.6.
    more = {"end": 95.0, "gasketed_joints": 15, "gasketed_diameter_in": 2.0}
    found = judge(restraint="gasketed", **more)
    assert found.gasketed_allowance_ml_per_min == pytest.approx(
        15 * 2 * 97.5**0.5 / 7400 * 3785.41 / 60
    )
    assert (found.verdict, found.reason) == ("holds", "within make-up")
    assert judge(restraint="gasketed", end=95.0).verdict == "leaks"


# ── The shape of the readings ────────────────────────────────────────────────────────────────


def test_settling_is_not_called_a_leak():
    readings = tuple(Reading(t, p, 68.0) for t, p in ((0, 100), (15, 96.4), (30, 95.6), (60, 95.5)))
    found = judge(readings=readings)
    assert (found.shape, found.verdict, found.reason) == ("settling", "repeat", "settling")


def test_a_leak_goes_on():
    # A leak through a hole: flow with √P, so the rate barely slows.
    readings = tuple(Reading(t, p, 68.0) for t, p in ((0, 100), (30, 95), (60, 90.2)))
    found = judge(readings=readings)
    assert (found.shape, found.verdict) == ("steady", "leaks")


def test_water_that_warmed_and_cooled_again_was_not_steady():
    readings = (Reading(0, 100, 68.0), Reading(30, 110, 75.0), Reading(60, 100, 68.0))
    assert judge(readings=readings).reason == "temperature swing"


def test_each_reading_stands_beside_what_a_tight_line_shows():
    readings = (Reading(0, 100, 68.0), Reading(30, 101, None), Reading(60, 104, 72.0))
    shown = judge(readings=readings).readings
    assert shown[0].expected_psi == 100
    assert shown[1].expected_psi is None
    assert shown[2].expected_psi == pytest.approx(104.6, abs=0.6)


# ── What cannot be asked ─────────────────────────────────────────────────────────────────────


def test_one_reading_is_no_test():
    with pytest.raises(Problem, match="at its start and one at its end"):
        judge(readings=(Reading(0, 100, 68.0),))


@pytest.mark.parametrize(
    ("parts", "field"),
    [
        ({"start": 0.0}, "start.pressure"),
        ({"end": -1.0}, "end.pressure"),
        ({"start_f": 33.0}, "start.water_temperature"),
        ({"end_f": 150.0}, "end.water_temperature"),
        ({"minutes": 0.0}, "minutes"),
        ({"gauge_division_psi": 0.0}, "gauge_division"),
    ],
)
def test_out_of_range(parts, field):
    with pytest.raises(OutOfRange, match=r"above|under|over") as caught:
        judge(**parts)
    assert caught.value.field == field


# ── Properties ───────────────────────────────────────────────────────────────────────────────

lines = st.sampled_from([(TWO_INCH,), (PE_ONE_INCH,), (TWO_INCH, PE_ONE_INCH)])
pressures, warm = st.floats(20.0, 150.0), st.floats(60.0, 90.0)


tests = st.fixed_dictionaries(
    {
        "segments": lines,
        "start": pressures,
        "end": pressures,
        "minutes": st.floats(1, 240),
        "start_f": warm,
        "end_f": warm,
        "expansion_phase": st.booleans(),
    }
)


@given(tests)
def test_a_coarser_gauge_never_makes_a_leak(test):
    def verdict(division):
        return judge(**test, gauge_division_psi=division).verdict

    found = [verdict(division) for division in (0.1, 0.5, 1.0, 2.0, 5.0, 20.0)]
    for fine, coarse in pairwise(found):
        assert not (coarse == "leaks" and fine != "leaks")


@given(tests, st.floats(0.0, 100.0))
def test_a_deeper_fall_never_goes_from_leaks_to_holds(test, deeper):
    shallow = judge(**test)
    deep = judge(**test | {"end": max(0.0, test["end"] - deeper)})
    if shallow.verdict == "leaks":
        assert deep.verdict != "holds"


@given(pressures, warm, st.floats(0.1, 5.0))
def test_a_warmer_end_leaves_more_unexplained(end, start_f, step):
    # Above 60 °F a tight PVC line rises with heat, so the same reading is worse.
    cooler = judge(end=end, start_f=start_f, end_f=start_f)
    warmer = judge(end=end, start_f=start_f, end_f=start_f + step)
    assert warmer.unexplained_drop_psi > cooler.unexplained_drop_psi


@given(lines, pressures, warm, st.floats(15.0, 240.0), st.floats(1.1, 5.0))
def test_a_longer_hold_shows_a_smaller_leak(segments, start, temperature_f, minutes, times):
    short = judge(start, start, minutes, temperature_f, temperature_f, segments=segments)
    longer = judge(start, start, minutes * times, temperature_f, temperature_f, segments=segments)
    assert longer.detectable_leak_ml_per_min < short.detectable_leak_ml_per_min


@given(tests)
def test_every_answer_is_whole(test):
    found = judge(**test).as_json()
    assert found["verdict"] in {"holds", "leaks", "repeat"}
    assert found["leak_ml_per_min"] >= 0
    assert "NaN" not in str(found)
