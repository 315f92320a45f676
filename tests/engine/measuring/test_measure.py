"""Measuring: GUM sums against another program and worked budgets, and what must always hold."""

from __future__ import annotations

import math
import statistics
from random import Random

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from uncertainties import ufloat

from fieldkit.engine.measuring.measure import (
    CARD_MM,
    WALLS,
    doubt_of_circle,
    measure_on_screen,
    measure_with_caliper,
    measure_with_strip,
    outside_at_reference,
    outside_from_strip,
)
from fieldkit.engine.measuring.no_caliper import bore_between, not_measured
from fieldkit.engine.measuring.odd_readings import median, odd_readings
from fieldkit.engine.problems import OutOfRange, Problem
from fieldkit.tables.load import known_sources
from fieldkit.tables.materials import materials
from fieldkit.tables.measuring import uncertainty

READINGS = st.lists(st.floats(0.6, 0.8), min_size=1, max_size=12).map(tuple)
MATERIALS = st.sampled_from(sorted(WALLS))


def rule(name: str) -> float:
    return uncertainty()[name].value


# ── Against the ``uncertainties`` package, which propagates by derivatives ───────────────────


#: So few, or so odd a number, that none is taken for an oval.
NO_OVAL = READINGS.filter(lambda some: len(some) < 4 or len(some) % 2)


@given(NO_OVAL, st.sampled_from(["pvc", "pe", "drip"]), st.floats(0.0, 140.0))
def test_caliper_sum_agrees_with_the_uncertainties_package(readings, material, temperature_f):
    wall = materials()[material]
    kind = WALLS[material]
    n = len(readings)
    s = statistics.stdev(readings) if n > 1 else 0.0
    mean = ufloat(statistics.fmean(readings), max(s, rule(f"repeat_{kind}")) / math.sqrt(n))
    instrument = ufloat(0, rule("caliper_accuracy") / math.sqrt(3))
    zero = ufloat(0, rule("caliper_zero") / math.sqrt(3))
    step = ufloat(0, rule("caliper_step") / math.sqrt(12))
    force = ufloat(0, rule(f"jaw_force_{kind}") / math.sqrt(3))
    alpha = ufloat(wall.alpha_per_f, wall.alpha_half_width_per_f / math.sqrt(3))
    warm = ufloat(temperature_f, rule("temperature_given") / math.sqrt(3))
    theirs = mean * (1 - alpha * (warm - 73)) + instrument + zero + step + force

    ours = measure_with_caliper(readings, material, temperature_f=temperature_f)
    assert ours.od_in == pytest.approx(theirs.nominal_value, rel=1e-12)
    # The budget adds instrument terms to the mean before it is brought to 73 °F and takes their
    # sensitivity as 1: that differs from the exact derivative by α ΔT, at most 0.73 %.
    assert ours.u_od_in == pytest.approx(2 * theirs.std_dev, rel=0.0075)


@given(st.floats(1.5, 4.0), st.integers(1, 5), st.floats(20.0, 130.0))
def test_strip_sum_agrees_with_the_uncertainties_package(around_in, turns, temperature_f):
    length = around_in * turns
    wall = materials()["pe"]
    half_step = rule("ruler_step") / 2
    ends = ufloat(0, half_step / math.sqrt(3)) - ufloat(0, half_step / math.sqrt(3))
    scale = ufloat(0, rule("ruler_scale") / math.sqrt(3))
    slack = ufloat(0, turns * rule("strip_slack") / math.sqrt(3))
    # Tilt is one-sided, 0 to 4°: its half-width is half of the largest lengthening.
    lengthening = length * (1 / math.cos(math.radians(4)) - 1)
    tilt = ufloat(0, lengthening / 2 / math.sqrt(3))
    paper = ufloat(rule("paper_thickness"), rule("paper_tolerance") / math.sqrt(3))
    alpha = ufloat(wall.alpha_per_f, wall.alpha_half_width_per_f / math.sqrt(3))
    warm = ufloat(temperature_f, rule("temperature_given") / math.sqrt(3))
    outside = (length + ends + scale + slack + tilt) / (turns * math.pi) - paper
    theirs = outside * (1 - alpha * (warm - 73))

    ours = measure_with_strip((length,), "pe", temperature_f=temperature_f, turns=turns)
    assert ours.od_in == pytest.approx(theirs.nominal_value, rel=1e-12)
    assert ours.u_od_in == pytest.approx(2 * theirs.std_dev, rel=0.0075)
    assert ours.ovality_in is None


@given(st.floats(0.1, 2.5), st.floats(0.3, 0.95), st.floats(20.0, 130.0))
def test_screen_sum_agrees_with_the_uncertainties_package(od_in, part, temperature_f):
    """From the geometry itself: pixels over pixels per millimetre, and two edges through glass."""
    per_mm = 6.2 * (1 + ufloat(0, rule("screen_card") * 25.4 / math.sqrt(3)) / 85.60)
    slant = rule("screen_glass") * math.tan(math.radians(rule("screen_eye_deg")))

    def circle(across_in):
        edges = (
            ufloat(0, slant / math.sqrt(3)) + ufloat(0, rule("screen_edge") / math.sqrt(3))
            for _ in range(2)
        )
        pixels = across_in * 25.4 * 6.2
        return pixels / per_mm / 25.4 + sum(edges) + ufloat(0, rule("screen_step") / math.sqrt(12))

    wall = materials()["pe"]
    alpha = ufloat(wall.alpha_per_f, wall.alpha_half_width_per_f / math.sqrt(3))
    warm = ufloat(temperature_f, rule("temperature_given") / math.sqrt(3))
    theirs = circle(od_in) * (1 - alpha * (warm - 73))

    ours = measure_on_screen((od_in,), "pe", temperature_f=temperature_f, bore_in=od_in * part)
    assert ours.od_in == pytest.approx(theirs.nominal_value, rel=1e-12)
    assert ours.u_od_in == pytest.approx(2 * theirs.std_dev, rel=0.0075)
    assert ours.u_bore_in == pytest.approx(2 * circle(od_in * part).std_dev, rel=1e-6)
    assert ours.u_bore_in < ours.u_od_in  # so the outside's may stand for the bore's
    assert ours.ovality_in is None


def test_the_card_is_that_of_the_standard():
    assert CARD_MM == (53.98, 85.60)  # ISO/IEC 7810, ID-1


def test_the_slant_through_glass_is_not_understated():
    """Snell's law, with a glass of index 1.5, bends the ray towards upright: it shifts less."""
    eye = math.radians(rule("screen_eye_deg"))
    true_in = rule("screen_glass") * math.tan(math.asin(math.sin(eye) / 1.5))
    assert true_in < rule("screen_glass") * math.tan(eye) < 2 * true_in


def test_what_a_circle_may_be_off_grows_with_its_width():
    assert doubt_of_circle(0.0) < doubt_of_circle(0.7) < doubt_of_circle(2.0) < 0.025
    assert 0.4 < doubt_of_circle(0.7) * 25.4 < 0.5  # mm


@pytest.mark.parametrize("bore_in", [0.0, -0.1, 0.7, 1.0, math.nan])
def test_a_hole_as_wide_as_the_circle_outside_is_refused(bore_in):
    with pytest.raises(OutOfRange) as caught:
        measure_on_screen((0.7,), "pe", bore_in=bore_in)
    assert caught.value.field == "bore"


# Worked budgets with the same inputs, u_c printed to four or five decimals (GUM, k = 1):
# four caliper readings on PE and on PVC, and one strip of paper read to 0.5 mm.
def test_worked_budget_of_a_caliper_on_polyethylene():
    found = measure_with_caliper((0.700,) * 4, "pe", temperature_f=73.0, zero_in=0.0)
    assert found.u_od_in / 2 == pytest.approx(0.0021, abs=0.00005)


def parts_of(found) -> list[float]:
    """The parts of the budget: all lines that rest on a spread. [in]"""
    spreads = {"half-width", "step", "s"}
    return [one.value for one in found.working if spreads & set(one.inputs)]


def test_worked_budget_of_a_caliper_on_pvc():
    # The budget has no zero: ours is left out of the sum.
    found = measure_with_caliper((1.050,) * 4, "pvc", temperature_f=73.0, zero_in=0.0)
    parts = parts_of(found)
    zero = next(one.value for one in found.working if "zero" in one.name)
    u_in = math.sqrt(math.hypot(*parts) ** 2 - zero**2)
    assert u_in == pytest.approx(0.00120, abs=0.000005)


def test_worked_budget_of_a_paper_strip():
    found = measure_with_strip((2.2117,), "pe", temperature_f=73.0)
    assert found.u_od_in / 2 == pytest.approx(0.0042, abs=0.00005)


@pytest.mark.parametrize(
    ("outside_in", "strip_mm"),
    [(0.620, 49.8), (0.700, 56.2), (0.710, 57.0), (0.840, 67.3), (1.050, 84.1), (1.315, 105.3)],
)
def test_strip_lengths_agree_with_a_printed_table(outside_in, strip_mm):
    """Millimetres of paper round each outside, printed to 0.1 mm, with 0.1 mm paper."""
    assert outside_from_strip(strip_mm / 25.4, 0.1 / 25.4) == pytest.approx(
        outside_in, abs=0.1 / 25.4 / math.pi
    )


@pytest.mark.parametrize(
    ("material", "at_73_in", "growth_in"),
    [
        ("pvc", 0.700, 0.0010),
        ("pvc", 1.050, 0.0015),
        ("cpvc", 1.050, 0.0019),
        ("pe", 0.700, 0.0030),
        ("pe", 1.050, 0.0044),
        ("drip", 0.700, 0.0033),
    ],
)
def test_growth_from_73_to_120_agrees_with_handbook_coefficients(material, at_73_in, growth_in):
    """Facility Piping Systems Handbook, Table 2.15, and supplier tables; printed to 0.0001 in.

    Bringing the warm size back leaves α² ΔT² of it, up to 0.00002 in.
    """
    warm_in = at_73_in + growth_in
    alpha = materials()[material].alpha_per_f
    assert outside_at_reference(warm_in, alpha, 120.0) == pytest.approx(at_73_in, abs=0.00007)


# ── What must always hold ────────────────────────────────────────────────────────────────────


@given(READINGS, st.integers(2, 4), MATERIALS)
def test_more_readings_with_the_same_scatter_never_blur(readings, times, material):
    assume(len(readings) * times <= 50)
    few = measure_with_caliper(readings, material, temperature_f=80.0)
    # Repeating the whole set keeps its spread; s itself only shrinks, by (n − 1)/(kn − 1).
    many = measure_with_caliper(readings * times, material, temperature_f=80.0)
    if len(readings) > 1:
        assert many.u_od_in <= few.u_od_in * (1 + 1e-12)
    assert many.od_in == pytest.approx(few.od_in, rel=1e-12)


@given(READINGS, MATERIALS, st.floats(0.0001, 0.1), st.floats(0.0001, 0.1))
def test_a_coarser_display_never_sharpens(readings, material, one, other):
    fine, coarse = sorted((one, other))
    sharp = measure_with_caliper(readings, material, resolution_in=fine)
    blunt = measure_with_caliper(readings, material, resolution_in=coarse)
    assert sharp.u_od_in <= blunt.u_od_in * (1 + 1e-12)


@given(st.floats(0.001, 0.25), st.floats(0.001, 0.25))
def test_a_coarser_ruler_never_sharpens(one, other):
    fine, coarse = sorted((one, other))
    sharp = measure_with_strip((2.2,), "pe", resolution_in=fine)
    blunt = measure_with_strip((2.2,), "pe", resolution_in=coarse)
    assert sharp.u_od_in <= blunt.u_od_in * (1 + 1e-12)


@given(st.data(), READINGS, MATERIALS)
def test_the_order_of_readings_is_no_matter(data, readings, material):
    shuffled = tuple(data.draw(st.permutations(readings)))
    one, other = (measure_with_caliper(r, material) for r in (readings, shuffled))
    assert (one.od_in, one.u_od_in, one.ovality_in, one.verdict) == (
        other.od_in,
        other.u_od_in,
        other.ovality_in,
        other.verdict,
    )
    assert sorted(o.reading_in for o in one.odd_readings) == sorted(
        o.reading_in for o in other.odd_readings
    )


@given(READINGS, MATERIALS)
def test_no_temperature_is_never_surer_than_a_temperature_of_73(readings, material):
    told = measure_with_caliper(readings, material, temperature_f=73.0)
    untold = measure_with_caliper(readings, material)
    assert untold.od_in == told.od_in
    assert untold.u_od_in > told.u_od_in
    assert untold.temperature_assumed
    assert any("assumed" in str(line.inputs) for line in untold.working)
    assert not any("assumed" in str(line.inputs) for line in told.working)


@given(st.floats(0.6, 0.8), st.floats(0.0, 0.05), st.floats(0.0, math.pi), st.floats(0.0, math.pi))
def test_readings_a_quarter_turn_apart_cancel_an_oval(across_in, oval_in, lean, start):
    def reading(turn: float) -> float:
        return across_in + oval_in / 2 * math.cos(2 * (start + turn - lean))

    quarter, eighth = math.pi / 2, math.pi / 4
    four = tuple(reading(t) for t in (0.0, quarter, eighth, 3 * eighth))
    assert reading(0.0) + reading(quarter) == pytest.approx(2 * across_in, rel=1e-12)
    found = measure_with_caliper(four, "pe", temperature_f=73.0, paired=True)
    round_one = measure_with_caliper((across_in,) * 4, "pe", temperature_f=73.0)
    assert found.od_in == pytest.approx(across_in, rel=1e-12)
    # In pairs, an oval leaves the mean as sure as that of a round tube.
    assert found.u_od_in == pytest.approx(round_one.u_od_in, rel=1e-9)
    unpaired = measure_with_caliper(four, "pe", temperature_f=73.0)
    assert unpaired.u_od_in >= found.u_od_in * (1 - 1e-12)
    # Four readings at eighths of a turn see at least cos 45° of the oval.
    assert found.ovality_in <= oval_in + 1e-12
    assert found.ovality_in >= oval_in * math.cos(quarter / 2) - 1e-12


@given(READINGS, MATERIALS)
def test_every_part_is_a_line_and_their_squares_sum(readings, material):
    found = measure_with_caliper(readings, material, temperature_f=95.0)
    parts = parts_of(found)
    assert len(parts) in {7, 8}  # an oval has one more: how evenly the readings lie round it
    assert 2 * math.hypot(*parts) == pytest.approx(found.u_od_in, rel=1e-12)
    assert all(line.source in known_sources() for line in found.working)


def test_it_is_said_when_the_least_scatter_rules():
    calm = measure_with_caliper((0.700, 0.701, 0.700, 0.701), "pe")
    rough = measure_with_caliper((0.690, 0.691, 0.692, 0.715), "pe")
    assert any("least scatter, which rules" in line.formula for line in calm.working)
    assert not any("least scatter, which rules" in line.formula for line in rough.working)


# ── Odd readings ─────────────────────────────────────────────────────────────────────────────


def test_a_reading_that_stands_off_is_pointed_at_and_still_counted():
    readings = (0.700, 0.702, 0.752, 0.699)
    found = measure_with_caliper(readings, "pe", temperature_f=73.0)
    assert found.verdict == "look_again"
    (odd,) = found.odd_readings
    assert odd.number == 3
    assert odd.off_by_in == pytest.approx(0.752 - 0.701)
    assert found.od_in == pytest.approx(statistics.fmean(readings))
    assert "Reading 3 is 0.051 in off the middle" in found.cautions[0]


@given(st.lists(st.floats(0.6, 0.8), min_size=3, max_size=12).map(tuple))
def test_odd_means_a_modified_z_score_over_3_5(readings):
    """Iglewicz and Hoaglin: 0.6745 |x − median| / MAD > 3.5, for scatter above the floor."""
    middle = statistics.median(readings)
    mad = statistics.median(abs(one - middle) for one in readings)
    assume(1.4826 * mad > 0.003)
    theirs = {i for i, x in enumerate(readings, 1) if 0.6745 * abs(x - middle) / mad > 3.5005}
    nearly = {i for i, x in enumerate(readings, 1) if 0.6745 * abs(x - middle) / mad > 3.4995}
    ours = {odd.number for odd in odd_readings(readings, 0.003)}
    assert theirs <= ours <= nearly


@given(st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=9).map(tuple))
def test_the_median_is_the_standard_library_s(values):
    assert median(values) == statistics.median(values)


@given(READINGS)
def test_readings_within_the_instrument_s_noise_are_never_odd(readings):
    near = tuple(0.7 + (one - 0.7) * 0.01 for one in readings)
    assert not odd_readings(near, 0.003)


@pytest.mark.parametrize(
    ("readings", "at", "sentence"),
    [
        ((0.700, 0.702, 17.8), 2, r"It looks like millimeters: type 17\.8 mm"),
        ((4.0, 0.158), 0, r"It looks like millimeters: type 4 mm"),
        ((0.700, 7.02, 0.699), 1, "Look where the point stands"),
        ((0.700, 0.702, 0.0698), 2, "Look where the point stands"),
        ((17.8, 17.9), 0, r"more than any pipe here.*If it is millimeters, type 17\.8 mm"),
        ((0.7, 0.0), 1, "Reading 2 is not above 0"),
        ((0.7, -0.7), 1, "Reading 2 is not above 0"),
        ((0.7, math.nan), 1, "Reading 2 is not above 0"),
        ((math.inf,), 0, "Reading 1 is not above 0"),
    ],
)
def test_a_slip_is_named_and_never_averaged(readings, at, sentence):
    with pytest.raises(Problem, match=sentence) as caught:
        measure_with_caliper(readings, "pe")
    assert caught.value.field == f"readings[{at}]"


# ── Roundness, limits and other ways ─────────────────────────────────────────────────────────


@pytest.mark.parametrize(
    ("readings", "material", "said"),
    [
        ((0.840, 0.850, 0.845, 0.845), "pvc", False),  # D1785: ±0.008 in on a diameter of 1/2
        ((0.830, 0.850, 0.840, 0.840), "pvc", True),
        ((0.690, 0.710, 0.700, 0.700), "pe", False),
        ((0.670, 0.730, 0.700, 0.700), "pe", True),
    ],
)
def test_too_oval_is_said(readings, material, said):
    found = measure_with_caliper(readings, material)
    assert found.ovality_in == pytest.approx(max(readings) - min(readings))
    assert any("round" in text.lower() for text in found.cautions) is said


def test_one_reading_cannot_show_an_oval():
    assert "Take four" in measure_with_caliper((0.7,), "pe").cautions[0]


@pytest.mark.parametrize(
    ("arguments", "field"),
    [
        ({"temperature_f": 300.0}, "temperature"),
        ({"temperature_f": math.nan}, "temperature"),
        ({"resolution_in": 0.0}, "resolution"),
        ({"resolution_in": 1.0}, "resolution"),
    ],
)
def test_a_caliper_s_limits(arguments, field):
    with pytest.raises(OutOfRange, match=r"Give|finite") as caught:
        measure_with_caliper((0.7,), "pe", **arguments)
    assert caught.value.field == field


@pytest.mark.parametrize(
    ("lengths", "arguments", "field"),
    [
        ((2.2,), {"turns": 0}, "turns"),
        ((2.2,), {"thickness_in": -0.1}, "paper"),
        ((2.2,), {"thickness_in": 0.2}, "paper"),
        ((2.2,), {"resolution_in": 0.0}, "resolution"),
        ((0.001,), {}, "readings[0]"),
        ((56.2,), {}, "readings[0]"),
        ((), {}, "readings"),
        ((2.2,) * 51, {}, "readings"),
    ],
)
def test_a_strip_s_limits(lengths, arguments, field):
    with pytest.raises(OutOfRange, match=r"Give|millimeters") as caught:
        measure_with_strip(lengths, "pe", **arguments)
    assert caught.value.field == field


def test_an_unknown_wall_is_told_which_are_known():
    with pytest.raises(OutOfRange, match="Choose one of: pvc, cpvc, pe"):
        measure_with_caliper((0.7,), "wood")


@given(st.integers(8, 60))
def test_a_bore_between_two_drills_is_a_uniform_spread(sixty_fourths):
    goes, stops = sixty_fourths / 64, (sixty_fourths + 1) / 64
    bore, u_bore = bore_between(goes, stops)
    assert goes < bore < stops
    assert u_bore == pytest.approx(2 * (stops - goes) / math.sqrt(12))


def test_drills_in_the_wrong_order_are_refused():
    with pytest.raises(OutOfRange, match="cannot stop where"):
        bore_between(0.6, 0.59)


@pytest.mark.parametrize("side", ["pipe", "tube"])
def test_without_a_caliper_there_are_ways_on(side):
    found = not_measured(side)
    assert found.verdict == "no_measurement"
    assert {way.side for way in found.ways} == {side, "any"}
    assert found.gauges


# ── The zero, and an oval in any order ──────────────────────────────────────────────────────


def test_a_zero_is_taken_off_and_not_knowing_it_is_doubt():
    four = (0.702, 0.704, 0.700, 0.702)
    plain = measure_with_caliper(four, "pe", temperature_f=73.0)
    read = measure_with_caliper(four, "pe", temperature_f=73.0, zero_in=0.002)
    assert read.od_in == pytest.approx(plain.od_in - 0.002, abs=1e-12)
    assert read.u_od_in < plain.u_od_in
    # GUM 4.3.7: known only to lie within ±a, u = a/√3; a display step, GUM F.2.2.1, step/√12.
    off = 4 * ((0.001 / math.sqrt(3)) ** 2 - (0.0005 / math.sqrt(12)) ** 2)
    assert plain.u_od_in**2 - read.u_od_in**2 == pytest.approx(off, rel=0.01)
    assert read.readings_in == four  # what was read is kept as it was read


@pytest.mark.parametrize("zero_in", [-0.2, 0.06, float("nan")])
def test_no_caliper_closes_that_far_off(zero_in):
    with pytest.raises(OutOfRange) as caught:
        measure_with_caliper((0.7, 0.7), "pe", zero_in=zero_in)
    assert caught.value.field == "zero"


def test_an_oval_in_any_order_does_not_swell_the_doubt():
    # An outside look found 0.047 in for four unpaired readings of an oval, 0.004 in pairs.
    oval = (0.745, 0.655, 0.702, 0.698)
    paired = measure_with_caliper(oval, "pe", temperature_f=73.0, paired=True)
    shuffled = measure_with_caliper((oval[0], oval[2], oval[1], oval[3]), "pe", temperature_f=73.0)
    assert paired.u_od_in < 0.005
    assert shuffled.u_od_in < 0.012
    slip = measure_with_caliper((0.700, 0.702, 0.698, 0.752), "pe", temperature_f=73.0)
    assert slip.u_od_in > 0.02  # one reading that does not belong is no oval


@pytest.mark.parametrize("oval_in", [0.0, 0.02, 0.05, 0.08])
def test_the_doubt_covers_what_a_hand_does(oval_in):
    """Drawn by chance: four readings round an oval, turned by hand, in any order.

    U is k = 2, about 95 % (GUM, 6.2): of 800 draws at least 93 % must lie within it.
    """
    chance = Random(17)  # noqa: S311  -- a repeatable draw, not a secret
    within = 0
    for _ in range(800):
        start = chance.uniform(0, math.pi)
        turns = [start + i * math.pi / 4 + chance.uniform(-1, 1) * math.radians(15)
                 for i in range(4)]  # fmt: skip
        read = [0.700 + oval_in / 2 * math.cos(2 * t) + chance.gauss(0, 0.002) for t in turns]
        chance.shuffle(read)
        found = measure_with_caliper(tuple(read), "pe", temperature_f=73.0, zero_in=0.0)
        within += abs(found.od_in - 0.700) <= found.u_od_in
    assert within >= 0.93 * 800
