"""The plot along a line: inside its frame, thinned with its end kept, and true to its numbers."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.drawing import Metric, Seen

from fieldkit.engine.words import say
from fieldkit.flows.drawings.line_plot import Limit, Panel, line_plot
from fieldkit.flows.drawings.scale import nice_ticks
from fieldkit.flows.drawings.svg import WIDTH
from fieldkit.flows.localize import localizing

amounts = st.floats(0.0, 1e5, allow_nan=False)


def drawn(distances, *panels):
    words = say("a <line> & its limit")
    return Seen(line_plot(distances, panels, title=say("A line."), words=words))


@given(
    st.lists(st.tuples(amounts, amounts), min_size=1, max_size=300),
    st.lists(amounts, max_size=2),
)
def test_everything_lies_inside_the_frame(rows, levels):
    distances = sorted(x for x, _ in rows)
    limits = tuple(Limit(level, say("limit")) for level in levels)
    seen = drawn(distances, Panel(say("Pressure"), "psi", tuple(y for _, y in rows), limits))
    for node in seen.root.iter():
        for key in ("x", "x1", "x2", "cx"):
            assert -0.1 <= float(node.get(key, 0)) <= WIDTH + 0.1
        for key in ("y", "y1", "y2", "cy"):
            assert -0.1 <= float(node.get(key, 0)) <= seen.height + 0.1
        for pair in (node.get("points") or "").split():
            x, y = map(float, pair.split(","))
            assert -0.1 <= x <= WIDTH + 0.1
            assert -0.1 <= y <= seen.height + 0.1


def test_a_long_line_is_thinned_but_keeps_its_end():
    values = tuple(float(n) for n in range(2000))
    points = drawn(values, Panel(say("Flow"), "gpm", values)).corners("plot__line")
    assert len(points) <= 122
    assert points[-1][0] == WIDTH - 12


# NIST SP 811: 1 psi is 0.0689476 bar.
@pytest.mark.parametrize(("localizer", "factor"), [(str, 1.0), (Metric(), 0.0689476)])
def test_the_line_and_the_limit_are_read_off_as_they_were_put_in(localizer, factor):
    panel = Panel(say("Pressure"), "psi", (25.0, 22.0, 20.0), (Limit(15.0, say("lowest")),))
    with localizing(localizer):
        seen = drawn((0.0, 50.0, 100.0), panel)
    read = [seen.read_off(y, upright=True) for _, y in seen.corners("plot__line")]
    assert read == pytest.approx([25 * factor, 22 * factor, 20 * factor], rel=1e-3)
    limit = seen.read_off(seen.number("plot__limit", "y1"), upright=True)
    assert limit == pytest.approx(15 * factor, rel=1e-3)


def test_a_mistake_of_the_program_is_loud():
    with pytest.raises(ValueError, match="one value a distance"):
        drawn([0.0, 1.0], Panel(say("Flow"), "gpm", (1.0,)))


@given(st.floats(-1e5, 1e5), st.floats(-1e5, 1e5))
def test_ticks_span_what_they_must_and_are_few(one, other):
    low, high = min(one, other), max(one, other)
    ticks = nice_ticks(low, high)
    slack = 1e-6 * max(abs(low), abs(high), 1.0)
    assert ticks[0] <= low + slack
    assert ticks[-1] >= high - slack
    assert 2 <= len(ticks) <= 8
