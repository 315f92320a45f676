"""Each drawing read back and measured against the numbers that it was made from."""

import math
import re
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.catalogue import languages
from support.drawing import Metric, Seen, Translated, longer
from support.every_drawing import DRIP, assemblies, every_drawing

from fieldkit.flows.block import Drawing
from fieldkit.flows.diagnosing.questions import PLACE
from fieldkit.flows.drawings import pushing
from fieldkit.flows.drawings.assembly import assembly_drawing
from fieldkit.flows.drawings.cure import cure_bar
from fieldkit.flows.drawings.depth import depth_mark
from fieldkit.flows.drawings.held import readings_plot
from fieldkit.flows.drawings.places import leak_places
from fieldkit.flows.drawings.pushing import Ending
from fieldkit.flows.drawings.section import Rival, cross_section
from fieldkit.flows.drawings.strip import strip_method
from fieldkit.flows.drawings.thread import tape_direction, turns_past_hand
from fieldkit.flows.identifying.questions import FLOWS as NAMING
from fieldkit.flows.joining.cement_questions import JOIN_CEMENT
from fieldkit.flows.joining.thread_questions import JOIN_THREAD
from fieldkit.flows.joining.tube_questions import JOIN_TUBE
from fieldkit.flows.localize import localizing
from fieldkit.flows.question import Confirm
from fieldkit.tables.fittings import made_by

EVERY = every_drawing()
NAME_TUBE = next(flow for flow in NAMING if flow.id == "identify-tube")
ROWS = {key: assembly_drawing(one) for key, one in assemblies().items()}


@pytest.mark.parametrize("name", EVERY)
def test_a_strict_page_takes_it_and_a_phone_shows_it(name):
    seen = Seen(EVERY[name]())
    for one in seen.root.iter():
        assert not {"style", "id", "onclick"} & set(one.keys())
        assert not one.tag.endswith(("script", "style", "image"))
    assert seen.root.get("aria-hidden") == "true"
    assert seen.drawing.words
    assert seen.drawing.title
    # A 390 px phone with 16 px margins shows 360 units in 358 px.
    assert float(seen.root.get("font-size")) * 358 / seen.width >= 14


TELLERS = {"as made": str, "a quarter longer": longer} | {
    language: Translated(language) for language in languages()
}


@pytest.mark.parametrize("localizer", TELLERS.values(), ids=TELLERS)
@pytest.mark.parametrize("name", EVERY)
def test_no_words_lie_on_others_or_leave_the_sheet(name, localizer):
    with localizing(localizer):
        seen = Seen(EVERY[name]())
    boxes = seen.boxes()
    for number, (left, right, top, foot, words) in enumerate(boxes):
        assert left >= -4, words
        assert right <= seen.width + 4, words
        assert top >= -1, words
        assert foot <= seen.height, words
        for other in boxes[number + 1 :]:
            apart = right <= other[0] or other[1] <= left or foot <= other[2] or other[3] <= top
            assert apart, (words, other[4])


AMOUNT = re.compile(r"\d[\d.]* (?:in|mm|psi|bar|°F|°C|min|h)\\b")


@pytest.mark.parametrize("localizer", [str, Metric()], ids=["inch", "metric"])
@pytest.mark.parametrize("name", EVERY)
def test_the_words_beside_a_drawing_say_every_amount_that_stands_in_it(name, localizer):
    with localizing(localizer):
        seen = Seen(EVERY[name]())
        words = localizer(seen.drawing.words)
    amounts = {one for *_, text in seen.texts for one in AMOUNT.findall(text)}
    assert amounts <= set(AMOUNT.findall(words))


sizes = st.floats(0.15, 6.0)


@given(sizes, st.floats(0.2, 0.98), st.lists(sizes, max_size=5))
def test_the_section_keeps_the_ratios_of_bore_outside_and_rivals(od, share, others):
    bore = round(od * share, 4)
    rivals = [Rival(f"rival {n}", other) for n, other in enumerate(others)]
    seen = Seen(cross_section(od, bore_in=bore, rivals=rivals))
    unit = 75.0 / max(od, *others, od)  # the widest fills the space there is
    assert seen.number("section__measured", "r") == pytest.approx(od * unit, abs=1e-3)
    assert seen.number("section__bore", "r") == pytest.approx(bore * unit, abs=1e-3)
    drawn = [float(one.get("r")) for one in seen.all("section__rival")]
    assert drawn == pytest.approx(
        [other * unit for other in sorted(dict.fromkeys(others))], abs=1e-3
    )


def test_a_tube_is_drawn_to_the_ratio_of_its_outside_and_hole():
    seen = Seen(pushing.over_the_ridges(Ending("barb_bare", 0.700, 0.600)))
    upper, lower = seen.all("pushing__wall")
    high, wall = float(lower.get("y")) - float(upper.get("y")), float(upper.get("height"))
    outside = high + wall
    assert (outside - 2 * wall) / outside == pytest.approx(0.600 / 0.700, abs=1e-4)
    assert "0.700 in outside, 0.600 in inside" in seen.drawing.words
    assert "scale" not in pushing.over_the_ridges(Ending("barb_bare", 0.700, None)).words


def test_the_four_ways_are_two_pairs_at_right_angles():
    ways = [
        math.degrees(
            math.atan2(
                *(float(way.get(a)) - float(way.get(b)) for a, b in (("y1", "y2"), ("x2", "x1")))
            )
        )
        for way in Seen(EVERY["four ways"]()).all("four__way")
    ]
    assert [round(way) % 180 for way in ways] == [0, 90, 45, 135]


def test_only_the_tool_that_was_used_is_drawn_and_only_what_was_measured_is_marked():
    tools = {"caliper": "section__jaw", "strip": "section__strip", "listed": None, "": None}
    for tool, css in tools.items():
        seen = Seen(cross_section(0.7, u_od_in=0.004, rivals=DRIP, od_tool=tool))
        drawn = {one for one in ("section__jaw", "section__strip") if seen.all(one)}
        assert drawn == ({css} if css else set())
        assert bool(seen.all("section__here")) == bool(seen.all("band")) == (tool != "listed")
    assert Seen(EVERY["section by drill"]()).all("section__drill")
    assert not Seen(EVERY["section"]()).all("section__drill")


def test_the_jaws_of_the_caliper_touch_what_was_measured_and_nothing_more():
    seen = Seen(EVERY["section"]())
    x, radius = seen.number("section__measured", "cx"), seen.number("section__measured", "r")
    faces = []
    for jaw in seen.all("section__jaw"):
        across = [float(pair.split(",")[0]) for pair in jaw.get("points").split()]
        faces.append((min(across), max(across)))
    assert faces[0][1] == pytest.approx(x - radius, abs=2e-3)
    assert faces[1][0] == pytest.approx(x + radius, abs=2e-3)
    assert not Seen(EVERY["section by strip"]()).all("section__jaw")


def test_the_enlarged_scale_is_straight_and_holds_band_and_rivals():
    seen = Seen(EVERY["section"]())
    places = [float(one.get("cx")) for one in seen.all("section__place")]
    unit = (places[1] - places[0]) / (0.700 - 0.690)
    assert places[2] - places[1] == pytest.approx(0.010 * unit, abs=0.01)
    here = float(seen.all("section__here")[0].get("x1"))
    assert here - places[1] == pytest.approx(0.005 * unit, abs=0.01)
    band = seen.all("band")[0]
    assert float(band.get("width")) == pytest.approx(2 * 0.004 * unit, abs=0.01)
    assert "0.700 in: 0.700 drip and 1 more" in [words for *_, words in seen.texts]


def test_a_strip_laid_flat_is_pi_times_as_long_as_the_tube_is_wide():
    seen = Seen(strip_method())
    long = seen.number("strip__length", "x2") - seen.number("strip__length", "x1")
    assert long / (2 * seen.number("strip__across", "r")) == pytest.approx(math.pi, rel=1e-4)


# ASTM D2466 socket depths of schedule 40 beside the pipe's outside, both in inches.
@pytest.mark.parametrize(
    ("od", "depth"), [(0.840, 0.688), (1.050, 0.719), (1.315, 0.875), (2.375, 1.156)]
)
def test_the_mark_stands_as_far_from_the_end_as_the_socket_is_deep(od, depth):
    seen = Seen(depth_mark(od, depth))
    unit = seen.number("depth__pipe", "height") / od
    end = seen.number("depth__pipe", "x") + seen.number("depth__pipe", "width")
    assert end - seen.number("depth__mark", "x1") == pytest.approx(depth * unit, abs=0.01)
    deep = seen.number("depth__deep", "x2") - seen.number("depth__deep", "x1")
    assert deep == pytest.approx(depth * unit, abs=0.01)
    assert f"{depth:.3f} in" in [words for *_, words in seen.texts]


def test_the_tape_goes_clockwise_for_who_faces_the_end():
    move, arc = Seen(tape_direction()).one("tape__way").get("d")[1:].split("A")
    start = [float(one) for one in move.split()]
    *_, large, sweep, end_x, end_y = (float(one) for one in arc.split())
    assert (large, sweep) == (0, 1)  # SVG 1.1, 8.3.8: sweep 1 is the way of positive angles
    assert start[0] < end_x  # over the top from left to right: as a clock's hand
    assert start[1] < end_y + 60


def test_turns_lie_on_a_straight_scale_from_hand_tight():
    seen = Seen(turns_past_hand(1.0, 2.0, 1.5))
    one_turn = seen.number("turns__stretch", "width")
    hand_tight = seen.number("turns__stretch", "x") - one_turn
    went = next(one for one in seen.all("turns__went") if one.tag.endswith("line"))
    assert float(went.get("x1")) - hand_tight == pytest.approx(1.5 * one_turn, abs=0.01)
    assert seen.number("turns__past", "x") == pytest.approx(hand_tight + 2 * one_turn, abs=0.01)


def test_every_place_of_a_leak_can_be_touched_and_none_lies_on_another():
    spots = leak_places().spots
    assert {spot.option for spot in spots} == {one.value for one in PLACE.kind.options}
    for number, one in enumerate(spots):
        for other in spots[number + 1 :]:
            assert max(abs(one.x - other.x), abs(one.y - other.y)) >= 54
    assert all(27 <= spot.x <= 360 - 27 for spot in spots)


@pytest.mark.parametrize("localizer", TELLERS.values(), ids=TELLERS)
def test_the_names_of_the_ends_stand_between_the_numbers_above_and_the_parts_below(localizer):
    with localizing(localizer):
        seen = Seen(leak_places())
    lowest_number = (
        min(spot.y for spot in seen.drawing.spots) + 17
    )  # its circle, in the style sheet
    highest_part = min(float(one.get("y")) for one in seen.all("wall")[-9:] if one.get("y"))
    for _, _, top, foot, words in seen.boxes():
        assert lowest_number <= top, words
        assert foot <= highest_part, words


@given(st.floats(5.0, 2000.0), st.floats(1.5, 40.0))
def test_set_and_cure_share_one_scale_of_time(set_minutes, times):
    cure = set_minutes * times
    seen = Seen(cure_bar(set_minutes, cure, [(0.0, 50.0), (cure / 2, 35.0)]))
    long = seen.number("cure__cure", "width")
    assert seen.number("cure__set", "width") / long == pytest.approx(1 / times, abs=1e-4)
    warmth = seen.corners("cure__warmth")
    left = seen.number("cure__cure", "x")
    assert warmth[1][0] - left == pytest.approx(long / 2, abs=0.01)  # it turns cold half-way
    assert warmth[2][1] > warmth[1][1]  # colder stands lower


def test_readings_and_band_share_one_scale():
    seen = Seen(EVERY["test"]())
    points = [(float(p.get("cx")), float(p.get("cy"))) for p in seen.all("held__point")]
    per_psi = (points[2][1] - points[0][1]) / (100.0 - 90.0)
    per_minute = (points[2][0] - points[0][0]) / 60.0
    assert points[1][0] - points[0][0] == pytest.approx(20 * per_minute, abs=0.01)
    assert points[1][1] - points[0][1] == pytest.approx(1 * per_psi, abs=0.01)
    corners = seen.corners("held__band")
    assert corners[-1][1] - corners[0][1] == pytest.approx(2 * 2.0 * per_psi, abs=0.01)
    assert corners[2][1] - corners[0][1] == pytest.approx(2.0 * per_psi, abs=0.01)  # 100 to 98
    assert "outside that band" in EVERY["test"]().words


# NIST SP 811: 1 psi is 0.0689476 bar, and °C = (°F − 32) / 1.8.
def test_pressure_and_warmth_are_read_off_in_the_units_of_the_reader():
    with localizing(Metric()):
        test, cure = Seen(EVERY["test"]()), Seen(EVERY["cure"]())
    read = [test.read_off(float(p.get("cy")), upright=True) for p in test.all("held__point")]
    assert read == pytest.approx([6.89476, 6.82581, 6.20528], abs=0.005)
    warmth = [cure.read_off(y, upright=True) for _, y in cure.corners("cure__warmth")]
    assert warmth == pytest.approx([10.0, 10.0, 1.667, 1.667], abs=0.01)


def test_a_test_without_water_temperature_has_no_band_to_draw():
    assert readings_plot([0.0, 60.0], [100.0, 90.0], [None, None], 2.0) is None


def test_ticks_of_hours_are_few_and_even():
    for hours in (0.4, 1, 3, 8, 24, 60, 200, 1000):
        words = [
            (x, text) for x, y, _, text in Seen(cure_bar(5.0, hours * 60, [(0.0, 70.0)])).texts
            if 205 < y < 220
        ]  # fmt: skip
        assert 2 <= len(words) <= 8, hours
        gaps = [round(b[0] - a[0], 1) for a, b in pairwise(words)]
        assert max(gaps) - min(gaps) <= 0.2


# Outside of the pipe and depth of its socket, ASTM D2466, schedule 40; major diameter of the
# thread, ASME B1.20.1. In inches.
def test_the_parts_in_a_row_keep_the_ratios_of_their_sizes():
    key = next(key for key in ROWS if key.startswith("ring_coupling_0500_0700"))
    seen = Seen(ROWS[key])
    unit = seen.number("row__pipe", "width") / 0.840
    assert seen.number("row__hole-socket", "width") == pytest.approx(0.840 * unit, abs=0.01)
    assert seen.number("row__hole-socket", "height") == pytest.approx(0.688 * unit, abs=0.01)
    assert seen.number("row__hole-ring", "width") == pytest.approx(0.700 * unit, abs=0.01)
    assert seen.number("row__tube", "width") == pytest.approx(0.700 * unit, abs=0.01)
    # The two glued ends lie one in the other when put together.
    pipe, socket = seen.one("together__pipe"), seen.one("together__socket")
    assert float(pipe.get("x")) == pytest.approx(float(socket.get("x")), abs=0.01)
    assert float(pipe.get("width")) == pytest.approx(float(socket.get("width")), abs=0.01)


def test_a_thread_is_drawn_as_wide_as_it_is():
    drawing = next(one for key, one in ROWS.items() if one and "mipt" in key and "fipt_0500" in key)
    seen = Seen(drawing)
    unit = seen.number("row__pipe", "width") / 0.840
    assert seen.number("row__npt-male", "width") == pytest.approx(0.840 * unit, abs=0.01)


@pytest.mark.parametrize("key", ROWS)
def test_every_way_to_join_has_a_picture_that_numbers_and_marks_each_joint(key):
    seen, made = Seen(ROWS[key]), assemblies()[key]["joints"]
    twice = seen.drawing.words.count("on both sides")  # the same joint on either side of a tee
    numbers = range(1, len(made) - twice + 1)
    for number in numbers:
        assert f"{number}: " in seen.drawing.words
        assert sum(words == str(number) for *_, words in seen.texts) == 2
    assert f"{len(numbers) + 1}: " not in seen.drawing.words
    kinds = {(one["kind"], tuple(one["between"])): one["kind"] for one in made}.values()
    glued = sum(kind in made_by("cement") for kind in kinds)
    screwed = sum(kind in made_by("thread") for kind in kinds)
    assert len(seen.all("together__cement")) == 2 * glued
    assert len(seen.all("together__thread")) == 4 * screwed


def test_the_dry_fit_stops_between_a_third_and_two_thirds_of_the_socket():
    seen = Seen(EVERY["dry fit"]())
    mouth, bottom = seen.number("dry__deep", "x1"), seen.number("dry__deep", "x2")
    low = seen.number("dry__stretch", "x")
    high = low + seen.number("dry__stretch", "width")
    assert (low - mouth) / (bottom - mouth) == pytest.approx(1 / 3, abs=1e-3)
    assert (high - mouth) / (bottom - mouth) == pytest.approx(2 / 3, abs=1e-3)


# ASTM D2466: outside of the pipe and depth of its schedule 40 socket, in inches.
@pytest.mark.parametrize(("size", "od", "depth"), [("1/2", 0.840, 0.688), ("2", 2.375, 1.156)])
@pytest.mark.parametrize("act", ["dry_fit", "prime", "cement", "push", "hold"])
def test_pipe_and_socket_keep_their_ratio_in_each_act_of_gluing(act, size, od, depth):
    picture = JOIN_CEMENT.step(act).drawing({"size": size, "wall": "Sch 40"}, {})
    corners = Seen(picture).corners("gluing__socket")
    (left, foot), (right, _), (_, top), *_ = corners[-4:]
    assert (right - left) / (foot - top) == pytest.approx(depth / od, abs=1e-3)


def test_the_turn_is_a_quarter():
    move, arc = Seen(EVERY["push"]()).one("push__turn").get("d")[1:].split("A")
    x1, y1 = (float(one) for one in move.split())
    radius, *_, x2, y2 = (float(one) for one in arc.split())
    # The chord of a right angle is the radius times the root of two.
    assert math.dist((x1, y1), (x2, y2)) == pytest.approx(radius * math.sqrt(2), abs=0.02)


def acts_on_dry_pipe(flow, tried, known):
    """The acts of making a joint and its trial; that the water is off is asked before any."""
    shut, *acts = [
        step
        for step in flow.steps
        if (isinstance(step.kind, Confirm) or step.id == tried) and step.when(known)
    ]
    assert (shut.id, shut.out_stops) == ("shut", "cannot_shut_off")
    return acts


def test_every_act_of_gluing_has_its_picture():
    known = {"size": "1/2", "wall": "Sch 40", "temperature": 70.0}
    acts = acts_on_dry_pipe(JOIN_CEMENT, "dry_fit", known)
    drawn = [step.drawing(known, {}) for step in acts]
    assert len(acts) == 9
    assert all(drawn)
    assert len({drawing.svg for drawing in drawn}) == 9


@pytest.mark.parametrize("kind", [one.value for one in JOIN_TUBE.step("kind").kind.options])
def test_every_act_of_putting_a_tube_on_has_its_picture(kind):
    known = {"kind": kind, "tube": "thin", "pressure": 25.0}
    acts = acts_on_dry_pipe(JOIN_TUBE, "tug", known)
    drawn = [step.drawing(known, {"tube.od_in": 0.7, "tube.bore_in": 0.6}) for step in acts]
    assert len(acts) >= 4
    assert all(drawn)
    assert len({drawing.svg for drawing in drawn}) == len(acts)


def test_the_clamps_drawn_are_as_many_as_the_pressure_asks_for():
    # Two clamps on thick pipe above 80 psi: clamp_rules.csv, ASTM D2609 from memory.
    for pressure, clamps in ((60.0, 1), (100.0, 2)):
        known = {"kind": "barb_clamped", "tube": "thick", "pressure": pressure}
        seen = Seen(JOIN_TUBE.step("lock").drawing(known, {}))
        assert len(seen.all("pushing__clamp")) == 2 * clamps  # each is cut twice


@pytest.mark.parametrize(("female", "most"), [("plastic", 1.5), ("plastic valve", 1.0)])
def test_the_dial_stands_where_the_turning_is_done_and_stops_sooner_on_a_valve(female, most):
    known = {"kind": "npt", "size": "1/2", "male": "plastic", "female": female, "sealant": "tape"}
    seen = Seen(JOIN_THREAD.step("turns").drawing(known, {}))
    numbers = [(x, float(text)) for x, _, _, text in seen.texts if text.isdigit()]
    one_turn = numbers[1][0] - numbers[0][0]
    stop = (seen.number("turns__past", "x") - numbers[0][0]) / one_turn
    assert stop == pytest.approx(most, abs=1e-3)


@pytest.mark.parametrize(
    ("given", "facts", "drawn", "said"),
    [
        ({"od": 0.7}, {}, "section__jaw", "by caliper"),
        ({}, {"tube.od_in": 0.7, "tube.od_tool": "strip"}, "section__strip", "a strip of paper"),
        ({}, {"tube.od_in": 0.7}, None, "The outside is 0.700 in across."),
        ({"print_line": "0.700 x 0.600 drip tubing"}, {}, None, "was not measured"),
        ({"od": 0.7, "bore": None, "drill": "38-39"}, {}, "section__drill", "by the drill"),
    ],
)
def test_naming_a_tube_draws_what_it_was_really_measured_with(given, facts, drawn, said):
    answer = NAME_TUBE.work_out(given, facts).as_json()
    (picture,) = [one for one in NAME_TUBE.show(answer) if isinstance(one, Drawing)]
    seen = Seen(picture)
    assert said in picture.words
    for css in ("section__jaw", "section__strip", "section__drill"):
        assert bool(seen.all(css)) == (css == drawn or (css == "section__jaw" and "od" in given))
