"""Test pressure, hold, gate and steps of a plan."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.shut_in import swelling

from fieldkit.engine.line_pipe import line_pipe
from fieldkit.engine.pipes import rigid_pvc
from fieldkit.engine.pressure_test.figures import HeldLine, Reading
from fieldkit.engine.pressure_test.line_stiffness import segment_of
from fieldkit.engine.pressure_test.part_ceiling import LinePart
from fieldkit.engine.pressure_test.plan import BY_WORKING, LineToTest, fill_gpm, plan_line
from fieldkit.engine.pressure_test.verdict import judge_line
from fieldkit.engine.problems import OutOfRange, Problem, Refused
from fieldkit.tables.materials import materials

TWO_INCH = rigid_pvc("2", "Sch 40")
HALF_INCH = rigid_pvc("1/2", "Sch 40")


def plan(*parts, working=60.0, temperature=73.0, **more):
    return plan_line(LineToTest(tuple(parts), working, temperature, **more))


def test_one_and_a_half_times_working():
    # The usual factor; the municipal clause takes the lesser of it and the weakest part.
    found = plan(LinePart("pipe", TWO_INCH), LinePart("solvent_socket", TWO_INCH))
    assert found.test_pressure_psi == 90
    assert (found.limited_by, found.limited_by_kind) == (BY_WORKING, "working_pressure")
    assert found.verdict == "ready"


def test_the_weakest_part_limits():
    found = plan(LinePart("pipe", HALF_INCH), LinePart("ring", size="1/2"), working=40.0)
    assert found.test_pressure_psi == 50
    assert found.limited_by == "tube pushed into a one-size ring (ring), 1/2 in"
    assert found.limited_by_kind == "ring"


def test_a_low_part_takes_from_the_gauge():
    # By hand: a ring 10 ft under the gauge sees 4.33 psi more; 50 − 4.33 = 45.67.
    found = plan(LinePart("ring", height_ft=-6.0), working=40.0, gauge_height_ft=4.0)
    assert found.test_pressure_psi == pytest.approx(45.67)


def test_a_high_part_gives_to_the_gauge():
    # By hand: 10 ft over the gauge it sees 4.33 psi less, so 54.33 at the gauge is 50 there.
    found = plan(LinePart("ring", height_ft=10.0), working=40.0)
    assert found.test_pressure_psi == pytest.approx(54.33)


def test_heat_and_thread_by_hand():
    # Sch 80 2 in. is printed 400; half for the thread; 0.50 at 110 °F: 100 psi.
    found = plan(LinePart("npt", rigid_pvc("2", "Sch 80")), working=90.0, temperature=110.0)
    assert found.test_pressure_psi == pytest.approx(100.0)


def test_working_over_a_part_is_not_tested():
    found = plan(LinePart("pipe", HALF_INCH), LinePart("barb_bare"), working=65.0)
    assert found.verdict == "do_not_test"
    assert found.steps == ()
    assert "barb bare" in found.headline
    assert any("regulator" in one for one in found.cautions)


def test_a_hot_thread_bears_nothing():
    found = plan(LinePart("npt", rigid_pvc("1", "Sch 80")), working=20.0, temperature=115.0)
    assert found.verdict == "do_not_test"
    assert found.test_pressure_psi == 0


@pytest.mark.parametrize(
    ("parts", "use", "hold_minutes", "source"),
    [
        ((LinePart("pipe", TWO_INCH),), None, 60, "trade"),
        ((LinePart("pipe", rigid_pvc("4", "Sch 40")),), None, 120, "awwa-c605"),
        ((LinePart("pipe", TWO_INCH),), "main", 120, "awwa-c605"),
        ((LinePart("ring"),), None, 30, "trade"),
        ((LinePart("pipe", line_pipe("pe", "1", "SIDR-15")),), None, 60, "astm-f2164"),
        ((LinePart("pipe", TWO_INCH), LinePart("ring")), None, 60, "trade"),
        ((LinePart("ring"),), "main", 120, "awwa-c605"),
    ],
)
def test_the_longest_hold_asked_for(parts, use, hold_minutes, source):
    # AWWA C605 quotes 2 h for mains; ASTM F2164 one hour; trade practice for the rest.
    found = plan(*parts, working=20.0, use=use)
    assert (found.hold_minutes, found.hold_source) == (hold_minutes, source)


def test_cure_is_a_gate():
    part = LinePart("solvent_socket", TWO_INCH)
    waiting = plan(part, cure_left_min=95.0)
    assert (waiting.verdict, waiting.minutes_left) == ("wait", 95.0)
    assert "1 h 35 min" in waiting.headline
    early = plan(part, cure_left_min=95.0, override_reason="Crop is wilting")
    assert early.verdict == "override"
    assert "Crop is wilting" in early.cautions[0]
    assert plan(part, cure_left_min=0.0).verdict == "ready"
    assert any("cured" in one for one in plan(part).cautions)


def test_an_override_does_not_lift_a_part_s_limit():
    found = plan(
        LinePart("barb_bare"), working=65.0, cure_left_min=95.0, override_reason="in a hurry"
    )
    assert found.verdict == "do_not_test"


def test_fill_at_one_foot_a_second():
    # By hand, from V = 0.4085 Q / d²: 2.45 d² gpm.
    assert fill_gpm(2.067) == pytest.approx(2.45 * 2.067**2, rel=0.001)
    found = plan(LinePart("pipe", TWO_INCH), LinePart("pipe", HALF_INCH))
    assert found.fill_gpm == pytest.approx(2.45 * 0.622**2, rel=0.001)


def test_the_air_caution_is_worked_out_for_this_line():
    # Worked apart: 100 ft of 2 in. Sch 40 at 100 psi: 57.9 kJ of air, and 77 J of water in a thin
    # wall. P² V/(2 Keff) with the give of a thick wall, solved by displacements, is 84 J.
    found = plan(LinePart("pipe", TWO_INCH, length_ft=100.0), working=200.0 / 3, temperature=68.0)
    assert found.test_pressure_psi == pytest.approx(100.0)
    assert found.energy is not None
    assert found.energy.air_j == pytest.approx(57_900, rel=0.002)
    give = swelling(2.067, 0.154, 0.38, "buried") / 400_000 + 1 / 316_600
    water_ft_lbf = 100.0**2 / 2 * give * 144 * 2.33
    assert found.energy.water_j == pytest.approx(water_ft_lbf * 1.3558, rel=0.002)
    assert any("57.9 kJ" in one and "84 J" in one for one in found.cautions)
    assert any("water only" in one for one in found.cautions)


def test_a_long_line_of_air_is_named_highly_hazardous():
    # UC Berkeley EHS: 100 kJ and more.
    found = plan(LinePart("pipe", TWO_INCH, length_ft=1000.0), working=60.0)
    assert any("highly hazardous" in one for one in found.cautions)


def test_polyethylene_gets_its_own_method():
    found = plan(LinePart("pipe", line_pipe("pe", "1", "SIDR-15")), working=40.0)
    assert any("4 h" in one and "10 psi" in one for one in found.steps)


def test_the_steps_run_from_caps_to_letting_out():
    steps = plan(LinePart("pipe", TWO_INCH)).steps
    order = ["Cap and block", "Fill", "high point", "Every joint must be dry", "Raise slowly",
             "settle", "Hold", "Let the pressure out"]  # fmt: skip
    places = [next(i for i, step in enumerate(steps) if word in step) for word in order]
    assert places == sorted(places)


def test_nothing_to_test_is_a_problem():
    with pytest.raises(Problem, match="No part"):
        plan()


@pytest.mark.parametrize("working", [0.0, -1.0, float("nan")])
def test_a_line_without_pressure_is_refused(working):
    with pytest.raises(OutOfRange, match=r"above 0|finite"):
        plan(LinePart("ring"), working=working)


# ── What the test would show ─────────────────────────────────────────────────────────────────


def long_line(size="2", length_ft=300.0):
    return LinePart("pipe", rigid_pvc(size, "Sch 40"), length_ft=length_ft)


def test_the_plan_and_the_verdict_run_one_sum():
    # A tight line read just so gets half of what the plan showed, or less: that is twice the
    # spread, so that 19 tight lines in 20 get it or less.
    found = plan(long_line(), restraint="buried", gauge_division_psi=1.0, thermometer_step_f=1.0)
    segment = segment_of(TWO_INCH, materials()["pvc"], 300.0)
    judged = judge_line(
        HeldLine(
            segments=(segment,),
            restraint="buried",
            readings=(Reading(0.0, 90.0, 73.0), Reading(found.hold_minutes, 90.0, 73.0)),
            visible_leak=False,
            gauge_division_psi=1.0,
            thermometer_step_f=1.0,
            minutes_since_pumped=30.0,
        )
    )
    assert judged.verdict == "holds"
    assert judged.leak_upper_ml_per_min <= found.shows_ml_per_min
    assert judged.shows_ml_per_min == pytest.approx(found.shows_ml_per_min, rel=0.15)


@pytest.mark.parametrize(
    ("better", "worse"),
    [
        ({"restraint": "buried"}, {"restraint": "free"}),
        ({"restraint": "free", "hour": 7}, {"restraint": "free", "hour": 13}),
        ({"gauge_division_psi": 0.5}, {}),
        ({"thermometer_step_f": 0.5}, {}),
    ],
)
def test_what_is_not_told_is_taken_at_its_worst(better, worse):
    assert (
        plan(long_line(), **better).shows_ml_per_min < plan(long_line(), **worse).shows_ml_per_min
    )


def test_a_plan_that_cannot_show_the_leak_says_so_and_what_would():
    found = plan(long_line("4", 1000.0))
    assert found.shows_ml_per_min > found.leak_that_matters_ml_per_min == 4
    assert found.would_settle
    assert all(one.shows_ml_per_min <= 4 for one in found.would_settle)
    assert "could hide" in found.cautions[0]
    assert str(found.would_settle[0].what) in found.cautions[0]
    sharp = plan(long_line("2", 100.0))
    assert sharp.would_settle == ()
    assert not any("could hide" in one for one in sharp.cautions)


def test_a_missing_thermometer_is_said_before_the_line_is_filled():
    found = plan(long_line(), thermometer=False)
    assert "Without a thermometer" in found.cautions[0]
    assert found.would_settle[0].change == "thermometer"
    assert not any("Without a thermometer" in one for one in plan(long_line()).cautions)


def test_the_leak_that_matters_may_be_the_person_s():
    found = plan(long_line(), leak_that_matters_ml_min=0.5)
    assert found.leak_that_matters_ml_per_min == 0.5
    assert found.would_settle


@pytest.mark.parametrize("temperature", [39.0, 0.0, -20.0])
def test_a_test_near_freezing_is_refused_with_the_reason(temperature):
    with pytest.raises(Refused, match="freeze in the line and split it") as caught:
        plan(long_line(), temperature=temperature)
    assert caught.value.field == "temperature"


kinds = st.sampled_from(["pipe", "solvent_socket", "npt", "ring", "collar", "barb_clamped"])
parts = st.builds(
    lambda kind, height: LinePart(kind, TWO_INCH if kind in {"pipe", "npt"} else None, "", height),
    kinds,
    st.floats(-100.0, 100.0),
)


@given(
    st.lists(parts, min_size=1, max_size=5), parts, st.floats(1.0, 200.0), st.floats(40.0, 139.0)
)
def test_one_part_more_or_a_hotter_day_never_raises_the_test(some, more, working, temperature):
    found = plan(*some, working=working, temperature=temperature)
    with_more = plan(*some, more, working=working, temperature=temperature)
    hotter = plan(*some, working=working, temperature=140.0)
    assert with_more.test_pressure_psi <= found.test_pressure_psi
    assert hotter.test_pressure_psi <= found.test_pressure_psi


@given(st.lists(parts, min_size=1, max_size=5), st.floats(1.0, 200.0), st.floats(-100.0, 100.0))
def test_no_part_sees_more_than_it_may(some, working, gauge_ft):
    found = plan(*some, working=working, gauge_height_ft=gauge_ft)
    for part, one in zip(some, found.ceilings, strict=True):
        there = found.test_pressure_psi + 0.433 * (gauge_ft - part.height_ft)
        assert there <= one.ceiling_psi + 1e-6 or found.test_pressure_psi == 0
