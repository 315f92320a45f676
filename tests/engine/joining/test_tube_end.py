"""Tube ends: clamps and ceilings as the trade prints them, less in heat."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldkit.engine.joining.tube_end import KINDS, clamp_rule, push_on
from fieldkit.engine.problems import OutOfRange


# Drip pages: a bare barb in thin tubing to 30 psi; the trade: a clamp to 60 psi; thick pipe one
# clamp at 80 psi, two per end at 100 psi and up.
@pytest.mark.parametrize(
    ("tube", "pressure_psi", "clamps"),
    [("thin", 25, 0), ("thin", 30, 0), ("thin", 31, 1), ("thin", 60, 1), ("thick", 20, 1),
     ("thick", 80, 1), ("thick", 81, 2), ("thick", 100, 2), ("thick", 160, 2)],
)  # fmt: skip
def test_clamps(tube, pressure_psi, clamps):
    assert clamp_rule(tube, float(pressure_psi)).clamps == clamps
    # Where a clamp was chosen, one goes on even if it could do without.
    assert push_on("barb_clamped", pressure_psi=pressure_psi, tube=tube).clamps == max(1, clamps)


@pytest.mark.parametrize(("tube", "pressure_psi"), [("thin", 61), ("thick", 161)])
def test_no_clamp_holds_more(tube, pressure_psi):
    with pytest.raises(OutOfRange, match="No clamp makes this tubing hold more"):
        clamp_rule(tube, pressure_psi)
    assert push_on("barb_clamped", pressure_psi=pressure_psi, tube=tube).verdict == "too_much"


def test_thick_pipe_never_goes_on_a_bare_barb():
    assert push_on("barb_bare", pressure_psi=10.0, tube="thick").verdict == "too_much"
    assert push_on("barb_bare", tube="thick").verdict == "too_much"


# PPFA bulletin 3-96: PVC keeps 0.40 at 120 °F; the row is used for soft drip tubing too.
def test_heat_lowers_the_ceiling():
    ring = push_on("ring", pressure_psi=25.0, temperature_f=120.0)
    assert ring.ceiling_psi == pytest.approx(20.0)
    assert ring.verdict == "too_much"


def test_unknown_pressure_is_not_judged_and_takes_the_most_clamps():
    end = push_on("barb_clamped", tube="thick")
    assert (end.verdict, end.clamps) == ("ok", 2)


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_has_steps_and_cautions(kind):
    end = push_on(kind, pressure_psi=10.0)
    assert end.verdict == "ok"
    assert any("Tug it" in step.do for step in end.steps)
    assert any("Shut the valve" in caution for caution in end.cautions)
    assert (end.nut is not None) == (kind == "collar")


@pytest.mark.parametrize(
    ("args", "wrong"),
    [
        ({"kind": "npt"}, "is not pushed on"),
        ({"kind": "ring", "pressure_psi": -1.0}, "^-1 psi is under 0 psi"),
        ({"kind": "ring", "temperature_f": 150.0}, "not rated"),
    ],
)
def test_what_is_not_listed_is_refused(args, wrong):
    kind = args.pop("kind")
    with pytest.raises(OutOfRange, match=wrong):
        push_on(kind, **args)
    with pytest.raises(OutOfRange, match="This kind of tube is not listed"):
        clamp_rule("hose", 10.0)


@given(st.sampled_from(KINDS), st.floats(0, 200), st.floats(33, 140), st.floats(33, 140))
def test_hotter_never_holds_more(kind, pressure_psi, one_f, two_f):
    cool_f, hot_f = sorted((one_f, two_f))
    cool = push_on(kind, pressure_psi=pressure_psi, temperature_f=cool_f)
    hot = push_on(kind, pressure_psi=pressure_psi, temperature_f=hot_f)
    assert hot.ceiling_psi <= cool.ceiling_psi
    assert hot.clamps >= cool.clamps


def test_no_clamp_makes_thick_pipe_stronger_than_its_print():
    # ASTM D2239: SIDR 19 of PE3408 is rated 80 psi.
    end = push_on("barb_clamped", pressure_psi=100.0, tube="thick", rating_psi=80.0)
    assert (end.verdict, end.ceiling_psi) == ("too_much", 80.0)
