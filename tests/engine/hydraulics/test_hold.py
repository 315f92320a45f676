"""What joints hold, hot; thrust and growth by worked examples."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldkit.engine.hydraulics.growth import length_change_in
from fieldkit.engine.hydraulics.hold import (
    HeldJoint,
    bend_thrust_lbf,
    hold,
    joint_limit,
    thrust_lbf,
)
from fieldkit.engine.hydraulics.sun import sun_line, wall_temperature_f
from fieldkit.engine.pipes import rigid_pvc
from fieldkit.engine.problems import OutOfRange, Problem
from fieldkit.tables.fittings import joints
from fieldkit.tables.pipes import pipes


def test_thrust_on_a_bend_worked_in_a_manual():
    # AWWA M23, chapter 4, example 1: 8 in, outside 9.05 in, 150 psi, 45°: 7,385 lb.
    assert bend_thrust_lbf(150.0, 9.05, 45.0) == pytest.approx(7385, abs=1)


# Hand-worked: seal diameter, then lbf at 20, 60 and 150 psi, printed to 0.1.
THRUSTS = [(0.600, 5.7, 17.0, 42.4), (0.824, 10.7, 32.0, 80.0), (1.049, 17.3, 51.9, 129.6),
           (2.067, 67.1, 201.3, 503.3), (2.375, 88.6, 265.8, 664.5)]  # fmt: skip


@pytest.mark.parametrize(("seal_in", "at_20", "at_60", "at_150"), THRUSTS)
def test_end_thrust(seal_in, at_20, at_60, at_150):
    for psi, pounds in ((20.0, at_20), (60.0, at_60), (150.0, at_150)):
        assert thrust_lbf(psi, seal_in) == pytest.approx(pounds, abs=0.051)


def test_a_half_turn_doubles_the_push_and_a_straight_run_has_none():
    assert bend_thrust_lbf(100.0, 1.0, 180.0) == pytest.approx(2 * thrust_lbf(100.0, 1.0))
    with pytest.raises(OutOfRange, match="not above 0"):
        bend_thrust_lbf(100.0, 1.0, 0.0)


def test_growth_worked_on_a_reference_site():
    # 2 in PVC, 300 ft, 70 to 140 °F, α 28e-6: 7.1 in.
    assert length_change_in(28e-6, 300.0, 70.0) == pytest.approx(7.1, abs=0.06)
    # A supplier: 1000 ft of PVC from 90 to 40 °F, about 20 in; α 3.0e-5 to 3.4e-5.
    assert length_change_in(3.0e-5, 1000.0, -50.0) > -20.4 > length_change_in(3.5e-5, 1000.0, -50.0)


def test_half_of_a_fitting_at_110_degrees():
    # A supplier's note: a 2 in Sch 80 part, 243 psi when cool, 121 psi at 110 °F.
    limit = joint_limit(HeldJoint("solvent_socket", rating_psi=243.0), 110.0)
    assert limit.hot_psi == pytest.approx(121.5, abs=1)


def judged(kind, static, surge, heat, **more):
    return hold((HeldJoint(kind, **more),), static_psi=static, surge_psi=surge, temperature_f=heat)


def test_heat_takes_a_ring_down_to_20_psi():
    # 50 psi × 0.40 at 120 °F: 55 psi lets it go.
    answer = judged("ring", 55.0, 0.0, 120.0)
    assert (answer.verdict, answer.limit_psi) == ("lets_go", pytest.approx(20.0))


def test_the_blow_off_of_a_barb():
    # 1 in PVC at 5 ft/s shut fast adds about 120 psi to 40: a barb good for 30 to 58 psi is off.
    answer = judged("barb_bare", 40.0, 120.0, 73.0, seal_in=0.600)
    assert answer.verdict == "lets_go"
    assert answer.thrust_lbf == pytest.approx(thrust_lbf(160.0, 0.600))


@pytest.mark.parametrize(
    ("static", "surge", "verdict"),
    [
        (35.0, None, "holds"),  # under 0.72 × 50
        (37.0, None, "marginal"),
        (37.0, 0.0, "holds"),
        (44.0, 0.5, "holds"),
        (44.0, 2.0, "marginal"),
        (45.0, 5.0, "marginal"),  # just at it
        (45.0, 5.1, "lets_go"),
        (50.1, None, "lets_go"),
    ],
)
def test_verdict(static, surge, verdict):
    assert judged("collar", static, surge, 73.0).verdict == verdict


def test_no_thread_above_110_degrees():
    assert judged("npt", 20.0, 0.0, 110.0).limit_psi == pytest.approx(50.0)
    hot = judged("npt", 20.0, 0.0, 111.0)
    assert (hot.verdict, hot.limit_psi) == ("lets_go", 0.0)
    assert any("110 °F" in text for text in hot.cautions)


def test_thick_pipe_is_held_by_its_clamps_and_never_bare():
    sidr = pipes()["pe-sidr-0750-sidr15"]
    one = joint_limit(HeldJoint("barb_clamped", pipe=sidr, clamps=1), 73.0).hot_psi
    two = joint_limit(HeldJoint("barb_clamped", pipe=sidr, clamps=2), 73.0).hot_psi
    assert one == 80.0 < two <= 160.0
    assert joint_limit(HeldJoint("barb_bare", pipe=sidr), 73.0).hot_psi == 0.0


def test_the_weakest_of_an_assembly_gives_the_limit():
    answer = hold(
        (
            HeldJoint("solvent_socket", pipe=rigid_pvc("1/2", "Sch 40")),
            HeldJoint("npt", pipe=rigid_pvc("1/2", "Sch 80")),
            HeldJoint("collar", seal_in=0.6),
        ),
        static_psi=30.0,
        surge_psi=5.0,
        temperature_f=73.0,
    )
    assert [row.kind for row in answer.joints] == ["solvent_socket", "npt", "collar"]
    assert (answer.weakest, answer.limit_psi, answer.verdict) == ("collar", 50.0, "holds")
    assert answer.peak_psi == 35.0


def test_what_cannot_be_judged_is_said():
    with pytest.raises(Problem, match="no joint of that kind") as caught:
        judged("welded", 10.0, 0.0, 73.0)
    assert caught.value.field == "joint.kind"
    with pytest.raises(Problem, match="No joint was given"):
        hold((), static_psi=10.0, surge_psi=0.0, temperature_f=73.0)
    with pytest.raises(OutOfRange, match="not rated"):
        judged("ring", 10.0, 0.0, 141.0)


@given(
    st.sampled_from(sorted(joints())),
    st.floats(33.0, 140.0),
    st.floats(0.0, 60.0),
    st.sampled_from(["pe-sidr-0750-sidr15", "pe-sidr-1000-sidr9", "drip-0700x0600", ""]),
)
def test_hotter_is_never_a_higher_limit(kind, cool, warmer, made_on):
    pipe = pipes().get(made_on) if joints()[kind].end_y == "tube" else None
    joint = HeldJoint(kind, pipe=pipe, clamps=2)
    hot = min(140.0, cool + warmer)
    assert joint_limit(joint, hot).hot_psi <= joint_limit(joint, cool).hot_psi


@given(st.floats(0.0, 200.0), st.floats(0.0, 100.0), st.floats(0.0, 50.0))
def test_more_pressure_is_never_a_better_verdict(static, surge, more):
    order = {"holds": 0, "marginal": 1, "lets_go": 2}
    before = judged("barb_clamped", static, surge, 90.0).verdict
    after = judged("barb_clamped", static + more, surge, 90.0).verdict
    assert order[after] >= order[before]


def test_sun_is_an_estimate_and_says_so():
    assert wall_temperature_f(95.0, sun=True) == 125.0
    assert wall_temperature_f(95.0, sun=False) == 95.0
    line = sun_line(95.0, sun=True)
    assert "estimate" in line.name
    assert line.status == "common practice, no source"
    with pytest.raises(OutOfRange, match="140 °F"):
        wall_temperature_f(150.0, sun=True)
