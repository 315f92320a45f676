"""Surge against worked examples, an independent wave program, and what must always be true."""

import math

import numpy
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldkit.engine.hydraulics.closing import closing_surge_psi
from fieldkit.engine.hydraulics.surge import (
    RIGID_WAVE_SPEED,
    critical_seconds,
    joukowsky_psi,
    rigid_column_psi,
    surge,
    transmitted_share,
    wave_speed_ft_s,
)
from fieldkit.engine.problems import OutOfRange

PVC_PSI, PE_PSI, SOFT_PSI = 400_000.0, 150_000.0, 60_000.0


def test_the_wave_of_dr_18_pipe():
    # Moser and Folkman, Buried Pipe Design, 3rd ed., Table 4.2: DR 18 PVC, 1311 ft/s.
    assert wave_speed_ft_s(18.0, 1.0, PVC_PSI) == pytest.approx(1311, rel=0.005)


def test_a_surge_worked_in_a_book():
    # The same, example 4.2: a 1311 ft/s, ΔV 7 ft/s: 122 psi (their 0.43 psi a foot), on 160 psi.
    rises = joukowsky_psi(1311.0, 7.0)
    assert rises == pytest.approx(122, abs=2)
    assert 160 + rises == pytest.approx(282, abs=2)


# Hand-worked with c₀ 4,720 ft/s: pipe, outside, wall, modulus, wave speed, psi for 1 ft/s.
WAVES = [
    ("PVC 1/2 Sch 40", 0.840, 0.109, PVC_PSI, 2054, 27.68),
    ("PVC 3/4 Sch 40", 1.050, 0.113, PVC_PSI, 1856, 25.00),
    ("PVC 1 Sch 40", 1.315, 0.133, PVC_PSI, 1795, 24.18),
    ("PVC 2 Sch 40", 2.375, 0.154, PVC_PSI, 1419, 19.12),
    ("PVC SDR 21", 21.0, 1.0, PVC_PSI, 1209, 16.29),
    ("PVC SDR 26", 26.0, 1.0, PVC_PSI, 1083, 14.59),
    ("PE DR 17", 17.0, 1.0, PE_PSI, 848, 11.42),
    ("thin tubing .600 × .700", 0.700, 0.050, SOFT_PSI, 604, 8.14),
]


@pytest.mark.parametrize(
    ("od", "wall", "modulus", "speed", "per_ft_s"),
    [row[1:] for row in WAVES],
    ids=[row[0] for row in WAVES],
)
def test_wave_speeds_worked_by_hand(od, wall, modulus, speed, per_ft_s):
    ours = wave_speed_ft_s(od, wall, modulus)
    assert ours == pytest.approx(speed, rel=0.001)
    # 2.31 ft a psi here, 0.4333 psi a foot there.
    assert joukowsky_psi(ours, 1.0) == pytest.approx(per_ft_s, rel=0.002)


@pytest.mark.parametrize(("printed_c0", "share"), [(4720.0, 0.001), (4660.0, 0.014)])
def test_the_two_printed_speeds_in_rigid_pipe(printed_c0, share):
    assert pytest.approx(printed_c0, rel=share) == RIGID_WAVE_SPEED


def test_a_wave_at_a_joint_worked_in_a_book():
    # Lingireddy and Wood 2021, problem 1.28 a.2: 100 m wave, D₂ = 2 D₁, same a: 40 and −60 m.
    passed = transmitted_share(1.0, 1000.0, ((2.0, 1000.0),))
    assert 100 * passed == pytest.approx(40.0)
    assert 100 * (passed - 1) == pytest.approx(-60.0)
    assert transmitted_share(1.0, 1000.0, ()) == 2.0  # a dead end doubles it
    assert transmitted_share(1.0, 1000.0, ((1.0, 1000.0),)) == 1.0  # no joint at all


# Loss of valves as they close, in velocity heads, from Perry's Chemical Engineers' Handbook as a
# reproduced table has it: share of the stroke that is open, K.
PERRY = {
    "gate": [(1.0, 0.17), (0.75, 0.9), (0.5, 4.5), (0.25, 24.0)],
    "ball": [(1.0, 0.05), (80 / 90, 0.29), (70 / 90, 1.56), (50 / 90, 17.3), (30 / 90, 206.0)],
    "solenoid": [(1.0, 2.3), (0.75, 2.6), (0.5, 4.3), (0.25, 21.0)],
}


def _passes(valve, share):
    points = [(0.0, 0.0), *((opened, k**-0.5) for opened, k in reversed(PERRY[valve]))]
    return float(numpy.interp(share, [x for x, _ in points], [y for _, y in points]))


def _method_of_characteristics(valve, length_ft, speed, velocity, static_psi, seconds):  # noqa: PLR0917
    """Peak rise [psi] at a closing valve; no friction, a large main at the far end.

    Characteristics of the water-hammer equations (Wylie and Streeter): C⁺ keeps H + a V/g,
    C⁻ keeps H − a V/g, each along a grid of the pipe. A witness of its own, with neither
    Joukowsky nor Allievi in it: the valve and the line beyond it take H = K V² / 2 g.
    """
    g, pieces = 32.174, 40
    main = static_psi * 2.31
    beyond = 2 * g * main / velocity**2 - PERRY[valve][0][1]  # what the line past the valve takes
    step, b = length_ft / pieces / speed, speed / g
    head, flow = numpy.full(pieces + 1, main), numpy.full(pieces + 1, velocity)
    highest, now = main, 0.0
    while now < seconds + 2 * length_ft / speed:
        now += step
        plus, minus = head + b * flow, head - b * flow
        new_head, new_flow = head.copy(), flow.copy()
        new_head[1:-1] = (plus[:-2] + minus[2:]) / 2
        new_flow[1:-1] = (plus[:-2] - minus[2:]) / (2 * b)
        new_head[0], new_flow[0] = main, (main - minus[1]) / b
        passes = _passes(valve, max(0.0, 1 - now / seconds))
        if passes == 0:
            new_head[-1], new_flow[-1] = plus[-2], 0.0
        else:
            k = (beyond + passes**-2) / (2 * g)  # H = k V², and H = C⁺ − b V
            new_flow[-1] = (-b + math.sqrt(b * b + 4 * k * max(plus[-2], 0.0))) / (2 * k)
            new_head[-1] = max(plus[-2], 0.0) - b * new_flow[-1]
        head, flow = new_head, new_flow
        highest = max(highest, head[-1])
    return (highest - main) / 2.31


@pytest.mark.parametrize("valve", PERRY)
@pytest.mark.parametrize(
    ("length_ft", "speed", "velocity", "static_psi", "seconds"),
    [(400.0, 1400.0, 5.0, 60.0, 0.3), (400.0, 1400.0, 5.0, 60.0, 2.0),
     (150.0, 1800.0, 4.0, 40.0, 0.5), (150.0, 1800.0, 7.0, 80.0, 3.0),
     (300.0, 600.0, 3.0, 25.0, 4.0)],
)  # fmt: skip
def test_a_closing_valve_agrees_with_the_method_of_characteristics(  # noqa: PLR0917
    valve, length_ft, speed, velocity, static_psi, seconds
):
    case = (length_ft, speed, velocity, static_psi, seconds)
    theirs = _method_of_characteristics(valve, *case)
    ours = closing_surge_psi(
        valve, length_ft=length_ft, wave_speed=speed, velocity=velocity,
        static_psi=static_psi, seconds=seconds,
    )  # fmt: skip
    assert ours == pytest.approx(theirs, rel=0.03, abs=0.3)
    # Michaud's even closing, 2 ρ L ΔV / t, is the least a real valve of that time can do.
    if seconds > critical_seconds(length_ft, speed):
        assert ours > 2 * rigid_column_psi(length_ft, velocity, seconds)


def test_a_valve_not_told_is_the_worst_of_them():
    line = {
        "od_in": 1.315, "wall_in": 0.133, "modulus_psi": PVC_PSI, "velocity_change": 5.0,
        "static_psi": 50.0, "length_ft": 200.0, "closure_seconds": 2.0,
    }  # fmt: skip
    each = {valve: surge(**line, valve=valve).surge_psi for valve in PERRY}
    unknown = surge(**line)
    assert unknown.surge_psi == max(each.values())
    assert each[unknown.valve] == unknown.surge_psi
    with pytest.raises(OutOfRange, match="no closing curve"):
        surge(**line, valve="globe")


def test_one_inch_pvc_at_5_ft_a_second():
    # Hand-worked: 5 × 24.18 = 121 psi on 40 psi, far over any barb.
    answer = surge(
        od_in=1.315,
        wall_in=0.133,
        modulus_psi=PVC_PSI,
        velocity_change=5.0,
        static_psi=40.0,
        length_ft=200.0,
        closure_seconds=0.1,
    )
    assert answer.surge_psi == pytest.approx(121, abs=0.5)
    assert answer.peak_psi == pytest.approx(161, abs=0.5)
    assert answer.critical_seconds == pytest.approx(400 / answer.wave_speed_ft_s)
    assert answer.verdict == "full"
    assert any("screening" in text for text in answer.cautions)


def test_a_joint_beyond_passes_part_of_it_on():
    tube = (0.600, wave_speed_ft_s(0.700, 0.050, SOFT_PSI))
    answer = surge(
        od_in=1.050,
        wall_in=0.113,
        modulus_psi=PVC_PSI,
        velocity_change=2.0,
        static_psi=30.0,
        onward=(tube,),
    )
    assert answer.transmitted_psi == pytest.approx(answer.surge_psi + answer.reflected_psi)
    assert answer.critical_seconds is None


def test_sizes_that_cannot_be_are_refused():
    with pytest.raises(OutOfRange, match="is not below") as caught:
        wave_speed_ft_s(1.0, 0.5, PVC_PSI)
    assert caught.value.field == "pipe.wall"


@given(
    st.floats(0.5, 4.0),
    st.floats(0.05, 0.45),
    st.sampled_from([PVC_PSI, PE_PSI, SOFT_PSI]),
    st.floats(0.0, 20.0),
    st.floats(1.0, 5000.0),
    st.floats(0.001, 100.0),
    st.sampled_from(sorted(PERRY)),
)
def test_slower_is_never_worse(od_in, wall_share, modulus, velocity, length_ft, seconds, valve):  # noqa: PLR0917
    speed = wave_speed_ft_s(od_in, od_in * wall_share, modulus)
    length_ft = max(length_ft, seconds * speed / 200)  # keep the chain short: a test of shape
    line = {"length_ft": length_ft, "wave_speed": speed, "velocity": velocity, "static_psi": 50.0}
    quick = closing_surge_psi(valve, **line, seconds=seconds)
    slow = closing_surge_psi(valve, **line, seconds=seconds * 1.5)
    assert slow <= quick * 1.02 + 0.1
    assert quick <= joukowsky_psi(speed, velocity) * (1 + 1e-12)
    assert speed < RIGID_WAVE_SPEED
    assert math.isfinite(quick)
