"""What a step's form sent, read in the units that its page was labelled with."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldkit.engine.problems import OutOfRange, Problem
from fieldkit.engine.words import Figure
from fieldkit.flows.catalogue import flows
from fieldkit.flows.forms import boxes, kept_with_units, read_answer, with_units
from fieldkit.flows.measures import metric_unit
from fieldkit.flows.question import Group, Quantity, Readings, Series, Step
from fieldkit.typed.units import unit_of

OUTSIDE = Step("od", "How wide?", Quantity("in", at_least=0.1, at_most=4.0))
FOUR_WAYS = Step("readings", "How wide?", Readings("in", ("One way", "The other"), at_least=2))
GAUGE = Step(
    "gauge", "Read it", Series((("pressure", "Gauge", "psi"), ("water", "Water", "°F")), at_least=1)
)
LOWS = Step("lows", "How cold?", Group((("first", "Tonight", "°F"), ("second", "Then", "°F"))))


# NIST SP 811: 1 in = 25.4 mm, 1 psi = 6894.757 Pa, t/°C = (t/°F − 32) / 1.8.
@pytest.mark.parametrize(
    ("step", "form", "kept", "value"),
    [
        (OUTSIDE, {"value": ["25.4"]}, {"value": ["25.4 mm"]}, 1.0),
        (OUTSIDE, {"value": ["11/16 in"]}, {"value": ["11/16 in"]}, 0.6875),
        (
            FOUR_WAYS,
            {"value-0": ["17.78"], "value-1": ["0.71 in"]},
            {"value-0": ["17.78 mm"], "value-1": ["0.71 in"]},
            [0.7, 0.71],
        ),
        (
            GAUGE,
            {"value-pressure": ["4"], "value-water": ["20"]},
            {"value-pressure": ["4 bar"], "value-water": ["20 °C"]},
            {"pressure": pytest.approx(400_000 / 6894.757, rel=1e-6), "water": 68.0},
        ),
        (LOWS, {"value-second": ["-10"]}, {"value-second": ["-10 °C"]}, {"second": 14.0}),
    ],
)
def test_on_a_metric_page_a_bare_number_is_metric(
    step: Step, form: dict[str, list[str]], kept: dict[str, list[str]], value: object
) -> None:
    assert with_units(step, form, metric=True) == kept
    assert read_answer(step, form, metric=True) == value
    # What is kept reads the same on any page, and completing it again changes nothing.
    assert read_answer(step, kept) == value
    assert with_units(step, kept, metric=True) == kept


def test_on_an_inch_page_nothing_changes() -> None:
    form = {"value": ["0.7"]}
    assert with_units(OUTSIDE, form, metric=False) == form
    assert kept_with_units(OUTSIDE, form, metric=False) == form
    assert read_answer(OUTSIDE, form) == 0.7


@given(st.decimals(min_value="0.1", max_value="4", places=3))
def test_a_number_kept_bare_means_the_same_on_a_metric_page(number: object) -> None:
    kept = {"value": [str(number)]}
    shown = kept_with_units(OUTSIDE, kept, metric=True)
    assert read_answer(OUTSIDE, shown, metric=True) == read_answer(OUTSIDE, kept)


def test_what_cannot_be_read_stays_as_typed() -> None:
    for typed in ("17,8", "?", "", "1 2"):
        form = {"value": [typed]}
        assert with_units(OUTSIDE, form, metric=True) == form
    with pytest.raises(Problem, match=r"can be read as 17\.8 or as 178"):
        read_answer(OUTSIDE, {"value": ["17,8"]}, metric=True)


def test_bounds_are_told_in_the_units_of_the_page_and_would_be_taken() -> None:
    with pytest.raises(OutOfRange, match=r"“102 mm” is more than 101.6 mm. Give 101.6 mm or less."):
        read_answer(OUTSIDE, {"value": ["102"]}, metric=True)
    with pytest.raises(OutOfRange, match=r"“2 mm” is less than 2.54 mm. Give 2.54 mm or more."):
        read_answer(OUTSIDE, {"value": ["2"]}, metric=True)
    assert read_answer(OUTSIDE, {"value": ["101.6"]}, metric=True) == 4.0


def test_an_empty_box_shows_an_example_that_follows_the_readers_units() -> None:
    with pytest.raises(Problem, match=r"such as 0.700 in, or press “I can’t tell”") as found:
        read_answer(FOUR_WAYS, {"value-0": ["0.7"]})
    assert found.value.field == "value-1"
    assert found.value.instead.parts["example"] == Figure(0.7, "in", 3)


def test_every_box_of_every_flow_can_be_read_in_metric_units() -> None:
    for flow in flows().values():
        for step in flow.steps:
            for unit in boxes(step).values():
                for one in (unit, metric_unit(unit)):
                    assert unit_of(one) is not None, (flow.id, step.id, one)


def test_every_button_reads_the_same_on_a_metric_page() -> None:
    for flow in flows().values():
        for step in flow.steps:
            if isinstance(step.kind, Quantity):
                for typed, label in step.kind.common:
                    form = {"value": [typed]}
                    assert read_answer(step, form, metric=True) == read_answer(step, form), label


def test_a_slip_in_a_gauge_reading_is_asked_again_before_it_is_kept():
    step = next(one for one in flows()["prove"].steps if isinstance(one.kind, Series))
    box = next(box for box, unit in boxes(step).items() if unit == "psi")
    others = {other: ["60 F"] for other, unit in boxes(step).items() if unit == "°F"}
    with pytest.raises(OutOfRange, match="is more than") as slip:
        read_answer(step, {box: ["2130 bar"], **others})
    assert slip.value.field == box
    assert read_answer(step, {box: ["2.13 bar"], **others})[box.removeprefix("value-")] > 30


# ── Sizes that cannot be, and trade sizes ───────────────────────────────────────────────────


def _boxes_of_an_outside():
    for flow_id in ("measure-pipe", "measure-tube", "identify-pipe", "identify-tube"):
        for step in flows()[flow_id].steps:
            if getattr(step.kind, "unit", "") == "in":
                yield pytest.param(step, id=f"{flow_id} {step.id}")


@pytest.mark.parametrize("step", list(_boxes_of_an_outside()))
@pytest.mark.parametrize("typed", ["-1", "0", "1e9", "-0.84 in", "70"])
def test_a_size_that_cannot_be_is_refused_beside_its_box(step, typed):
    if step.id == "zero" and typed == "0":
        pytest.skip("closed jaws may well show 0")
    box = next(iter(boxes(step)))
    form = {key: ["0.7"] for key in boxes(step)} | {box: [typed]}
    with pytest.raises(Problem) as caught:
        read_answer(step, form)
    assert caught.value.field == box
    assert caught.value.instead


@pytest.mark.parametrize(
    ("typed", "outside"), [("1/2", 0.840), ('3/4"', 1.050), ("1 in", 1.315), ("1-1/2", 1.900)]
)
def test_a_trade_size_is_no_outside(typed, outside):
    """Outside diameters of ASTM D1785; the box asks which of the two was meant."""
    for flow_id, step_id in (("identify-pipe", "od"), ("measure-tube", "readings")):
        step = flows()[flow_id].step(step_id)
        form = {key: ["0.7"] for key in boxes(step)} | {next(iter(boxes(step))): [typed]}
        with pytest.raises(Problem, match=f"{outside:.3f} in") as caught:
            read_answer(step, form)
        assert caught.value.given == typed


@pytest.mark.parametrize("typed", ["0.500", "1.0 in", "21.34 mm", "11/16", "5/8 in", "25 mm"])
def test_a_measured_outside_passes(typed):
    step = flows()["identify-pipe"].step("od")
    assert read_answer(step, {"value": [typed]}) > 0
