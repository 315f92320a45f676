"""The paper ruler read back: true inches on paper, and marks where π puts them."""

import math
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldkit.engine.measuring.measure import outside_from_strip
from fieldkit.flows.drawings.ruler import along_strip_in, paper_thickness_in, ruler_sheet

SHEET = ElementTree.fromstring(ruler_sheet())  # noqa: S314  -- our own markup
WIDE, HIGH = (float(one) for one in SHEET.get("viewBox").split()[2:])
#: Inches of paper to one unit, by the width that the sheet claims.
INCH = float(SHEET.get("width").removesuffix("in")) / WIDE


def lines(css):
    return [one for one in SHEET.iter() if css in (one.get("class") or "").split()]


def x_of(line):
    return float(line.get("x1"))


def test_the_sheet_has_one_scale_both_ways_and_fits_letter_and_a4():
    assert float(SHEET.get("height").removesuffix("in")) / HIGH == pytest.approx(INCH)
    # A4 is 210 mm wide, Letter 8.5 in; printers leave up to 0.5 in a side.
    assert min(210 / 25.4, 8.5) - 1.0 + 0.01 >= WIDE * INCH
    for one in SHEET.iter():
        for key in ("x1", "x2", "x"):
            assert 0 <= float(one.get(key, 0)) <= WIDE
        for key in ("y1", "y2", "y"):
            assert 0 <= float(one.get(key, 0)) <= HIGH
        for pair in (one.get("points") or "").split():
            x, y = map(float, pair.split(","))
            assert 0 <= x <= WIDE
            assert 0 <= y <= HIGH


@pytest.mark.parametrize(("css", "inches"), [("bar-in", 4.0), ("bar-mm", 100 / 25.4)])
def test_a_check_bar_is_as_long_as_it_says(css, inches):
    (bar,) = lines(css)
    assert (float(bar.get("x2")) - x_of(bar)) * INCH == pytest.approx(inches, abs=1e-5)


@pytest.mark.parametrize(
    ("css", "zero", "values"),
    [
        ("tick-in", 0, [step / 100 for step in range(20, 201)]),
        ("tick-mm", 1, [half / 2 / 25.4 for half in range(10, 102)]),
    ],
)
def test_each_mark_stands_pi_times_its_outside_from_the_edge(css, zero, values):
    edge = x_of(lines("zero")[zero])
    paper = 0.004  # office paper, about 0.1 mm
    drawn = [(x_of(one) - edge) * INCH for one in lines(css)]
    assert drawn == pytest.approx([math.pi * (od + paper) for od in values], abs=2e-5)


# ASTM D1785: outsides of 1/2 to 1-1/2 in pipe. [in]
def test_the_named_pipes_stand_at_their_outsides():
    edge = x_of(lines("zero")[0])
    drawn = [(x_of(one) - edge) * INCH / math.pi - 0.004 for one in lines("pipe")]
    assert drawn == pytest.approx([0.840, 1.050, 1.315, 1.660, 1.900], abs=1e-4)


@given(st.floats(0.2, 3.0))
def test_the_ruler_and_the_strip_of_paper_agree(od):
    assert outside_from_strip(along_strip_in(od), paper_thickness_in()) == pytest.approx(od)


def test_type_can_be_read_and_words_do_not_lie_on_one_another():
    assert float(SHEET.get("font-size")) * INCH * 96 >= 14  # CSS pixels
    boxes = []
    for one in SHEET.iter("{http://www.w3.org/2000/svg}text"):
        x, y, half = float(one.get("x")), float(one.get("y")), 4.0 * len(one.text)
        boxes.append((x - half, x + half, y, one.text))
    for number, (left, right, foot, words) in enumerate(boxes):
        for other in boxes[number + 1 :]:
            apart = right <= other[0] or other[1] <= left or abs(foot - other[2]) >= 14
            assert apart, (words, other[3])
