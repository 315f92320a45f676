"""The plot: nothing a strict page forbids, nothing outside its frame, type that can be read."""

from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldkit.flows.drawings.line_plot import WIDTH, Limit, Panel, line_plot, nice_ticks

amounts = st.floats(0.0, 1e5, allow_nan=False)


def drawn(distances, panels):
    markup = line_plot(distances, panels, along="feet", words="a <line> & its limit")
    return markup, ElementTree.fromstring(markup)  # noqa: S314  -- our own markup


@given(
    st.lists(st.tuples(amounts, amounts), min_size=1, max_size=300),
    st.lists(amounts, max_size=2),
)
def test_everything_lies_inside_the_frame(rows, levels):
    distances = sorted(x for x, _ in rows)
    limits = tuple(Limit(level, "limit") for level in levels)
    _, svg = drawn(distances, [Panel("Pressure", tuple(y for _, y in rows), limits)])
    height = float(svg.get("viewBox").split()[3])
    for node in svg.iter():
        for key in ("x", "x1", "x2", "cx"):
            assert -0.1 <= float(node.get(key, 0)) <= WIDTH + 0.1
        for key in ("y", "y1", "y2", "cy"):
            assert -0.1 <= float(node.get(key, 0)) <= height + 0.1
        for pair in (node.get("points") or "").split():
            x, y = map(float, pair.split(","))
            assert -0.1 <= x <= WIDTH + 0.1
            assert -0.1 <= y <= height + 0.1


def test_no_style_no_script_and_type_of_14_pixels_at_390():
    markup, svg = drawn([0.0, 50.0, 100.0], [Panel("Flow", (3.0, 2.0, 1.0), (Limit(4.0, "top"),))])
    assert "style=" not in markup
    assert "script" not in markup
    assert svg.get("role") == "img"
    assert svg.get("aria-label") == "a <line> & its limit"
    # A 390 px phone with 16 px margins shows 360 units in 358 px.
    assert float(svg.get("font-size")) * 358 / WIDTH >= 14


def test_a_long_line_is_thinned_but_keeps_its_end():
    values = tuple(float(n) for n in range(2000))
    _, svg = drawn(values, [Panel("Flow", values)])
    points = next(n for n in svg.iter() if n.tag.endswith("polyline")).get("points").split()
    assert len(points) <= 122
    assert points[-1].startswith(f"{WIDTH - 12:.1f},")


def test_a_mistake_of_the_program_is_loud():
    with pytest.raises(ValueError, match="one value a distance"):
        line_plot([0.0, 1.0], [Panel("Flow", (1.0,))], along="feet", words="")


@given(st.floats(-1e5, 1e5), st.floats(-1e5, 1e5))
def test_ticks_span_what_they_must_and_are_few(one, other):
    low, high = min(one, other), max(one, other)
    ticks = nice_ticks(low, high)
    slack = 1e-6 * max(abs(low), abs(high), 1.0)
    assert ticks[0] <= low + slack
    assert ticks[-1] >= high - slack
    assert 2 <= len(ticks) <= 8
