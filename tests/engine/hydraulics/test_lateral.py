"""Lines of emitters against EPANET, printed factors, and what must be true of any line."""

import math
from itertools import pairwise

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from witnesses import epanet

from fieldkit.engine.hydraulics.lateral import emitter_of, lateral
from fieldkit.engine.hydraulics.longest_run import MOST_OUTLETS, most_outlets
from fieldkit.engine.hydraulics.march import (
    Emitter,
    Layout,
    Pipe,
    end_pressure,
    march,
    with_barbs,
)
from fieldkit.engine.hydraulics.submain import submain
from fieldkit.engine.hydraulics.uniformity import (
    christiansen_factor,
    emission_uniformity,
    longest_closed_form,
    variation,
)
from fieldkit.engine.problems import OutOfRange

ROUGHNESS_M = 1.5e-6

# outlets, spacing ft, bore in, gph, psi, exponent, rise, method
LINES = [
    (50, 3.0, 0.600, 2.0, 20.0, 0.5, 0.0, "hazen_williams"),
    (50, 1.0, 0.520, 1.0, 20.0, 0.5, 0.0, "hazen_williams"),
    (50, 3.0, 0.600, 2.0, 20.0, 0.5, 0.02, "hazen_williams"),
    (50, 3.0, 0.600, 2.0, 20.0, 0.5, -0.03, "hazen_williams"),
    (50, 4.0, 0.820, 4.0, 30.0, 0.7, 0.01, "hazen_williams"),
    (50, 1.5, 0.600, 1.0, 25.0, 0.1, 0.0, "hazen_williams"),
    (50, 3.0, 0.600, 4.0, 15.0, 1.0, 0.0, "hazen_williams"),
    (50, 3.0, 0.600, 2.0, 20.0, 0.5, 0.0, "darcy"),
    (50, 1.0, 0.520, 1.0, 20.0, 0.5, -0.02, "darcy"),
    (50, 2.0, 0.600, 4.0, 20.0, 0.5, 0.02, "darcy"),
    (100, 1.0, 0.600, 1.0, 20.0, 0.5, 0.0, "hazen_williams"),
    (200, 1.0, 0.600, 1.0, 20.0, 0.5, 0.0, "darcy"),
]


@pytest.mark.parametrize("line", LINES)
def test_pressure_at_every_outlet_agrees_with_epanet(line):
    outlets, spacing, bore, gph, psi, exponent, rise, method = line
    emitter = Emitter(gph / 60 / psi**exponent, exponent)
    pipe = Pipe(bore, method=method, rise=rise)
    layout = Layout(spacing, spacing)
    ours = march(pipe, layout, emitter, outlets, end_pressure(pipe, layout, emitter, outlets, psi))

    hazen = method == "hazen_williams"
    model = epanet.network(inlet_psi=psi, exponent=exponent, headloss="H-W" if hazen else "D-W")
    nodes = epanet.add_line(
        model,
        "source",
        name="e",
        outlets=outlets,
        spacing_ft=spacing,
        bore_in=bore,
        roughness=pipe.c if hazen else ROUGHNESS_M,
        emitter=emitter,
        rise=rise,
    )
    theirs = epanet.pressures_psi(model)
    assert ours.pressures_psi == pytest.approx([theirs[n] for n in nodes], rel=0.005)


# As above, with what a barb is at each emitter and at the inlet: more pipe [ft], K, K.
BARBS = [(0.38, 0.0, 1.3), (0.0, 0.5, 1.3), (0.0, 2.0, 0.0), (0.51, 0.3, 2.5)]


@pytest.mark.parametrize("barbs", BARBS)
@pytest.mark.parametrize("line", [LINES[1], LINES[2], LINES[3], LINES[7], LINES[10]])
def test_barbs_agree_with_epanets_minor_losses(line, barbs):
    outlets, spacing, bore, gph, psi, exponent, rise, method = line
    barb_ft, barb_k, inlet_k = barbs
    emitter = Emitter(gph / 60 / psi**exponent, exponent)
    pipe = Pipe(bore, method=method, rise=rise, outlet_ft=barb_ft, outlet_k=barb_k, inlet_k=inlet_k)
    layout = Layout(spacing, spacing)
    ours = march(pipe, layout, emitter, outlets, end_pressure(pipe, layout, emitter, outlets, psi))
    hazen = method == "hazen_williams"
    model = epanet.network(inlet_psi=psi, exponent=exponent, headloss="H-W" if hazen else "D-W")
    nodes = epanet.add_line(
        model,
        "source",
        name="e",
        outlets=outlets,
        spacing_ft=spacing,
        bore_in=bore,
        roughness=pipe.c if hazen else ROUGHNESS_M,
        emitter=emitter,
        rise=rise,
        barb_ft=barb_ft,
        barb_k=barb_k,
        inlet_k=inlet_k,
    )
    theirs = epanet.pressures_psi(model)
    assert ours.pressures_psi == pytest.approx([theirs[n] for n in nodes], abs=0.005 * psi)
    assert ours.inlet_psi == pytest.approx(psi, rel=1e-6)
    longest = most_outlets(pipe, layout, emitter, psi, 0.2)
    bare = most_outlets(Pipe(bore, method=method, rise=rise), layout, emitter, psi, 0.2)
    assert 0 < longest <= bare or rise < 0


def test_usual_barbs_by_the_published_fit():
    # Montalvo 1983, standard barb: 18.91 / D^1.87 m, D in mm: 15.24 mm gives 0.116 m.
    assert with_barbs(Pipe(0.600)).outlet_ft == pytest.approx(0.116 / 0.3048, abs=0.002)


def steady(inlet_psi, *, least=10.0, most=None, outlets=100, exponent=0.0, bore=0.6):
    return lateral(
        pipe=Pipe(bore),
        layout=Layout(1.0, 1.0),
        outlet_gph=1.0,
        inlet_psi=inlet_psi,
        exponent=exponent,
        outlets=outlets,
        least_psi=least,
        most_psi=most,
    )


def test_compensating_emitters_are_judged_by_their_range_and_not_by_the_spread():
    # 300 outlets of 1 gph a foot apart, 0.600 in, 40 psi: Christiansen's sum, F = 0.352.
    wide = steady(40.0, outlets=300)
    gpm = 300 / 60
    loss = 0.2083 * (100 / 140) ** 1.852 * gpm**1.852 / 0.6**4.8655 * 3 * 0.3524 * 0.4331
    assert wide.end_pressure_psi == pytest.approx(40 - loss, abs=0.2)
    assert wide.pressure_variation_pct > 20
    assert (wide.verdict, wide.outlets_below_range) == ("even", 0)
    assert wide.flow_variation_pct == pytest.approx(0.0)


def test_five_psi_at_an_emitter_that_needs_ten_is_not_even():
    starved = steady(12.0, outlets=200)
    assert starved.verdict == "too_low"
    assert starved.lowest_pressure_psi < 10 < starved.highest_pressure_psi
    below = [row for row in starved.profile if row.pressure_psi < 10]
    assert starved.outlets_below_range == len(below) > 0
    assert f"{len(below)} of 200 outlets get under 10.0 psi" in starved.headline
    assert all(row.flow_gph < 1.0 for row in below)  # and it says how little they give
    with pytest.raises(OutOfRange, match=r"want over 10\.0 psi") as refused:
        steady(5.0)
    assert refused.value.field == "inlet_pressure"


def test_too_much_pressure_is_a_fault_too():
    assert steady(60.0, most=50.0).verdict == "too_high"
    assert steady(45.0, most=50.0).verdict == "even"


def test_the_longest_steady_line_ends_at_the_least_pressure():
    answer = steady(25.0, outlets=None)
    assert 10.0 <= answer.end_pressure_psi < 10.3
    assert answer.verdict == "even"
    one_more = steady(25.0, outlets=answer.outlets + 1)
    assert one_more.verdict == "too_low"


@pytest.mark.parametrize("method", ["hazen_williams", "darcy"])
def test_a_submain_with_laterals_agrees_with_epanet(method):
    hazen = method == "hazen_williams"
    emitter = Emitter(1.0 / 60 / 20**0.5, 0.5)
    main_pipe, pipe = Pipe(1.049, method=method, rise=0.01), Pipe(0.600, method=method, rise=-0.01)
    _, branches = submain(
        pipe=main_pipe,
        layout=Layout(10.0, 10.0),
        laterals=6,
        inlet_psi=25.0,
        lateral_pipe=pipe,
        lateral_layout=Layout(2.0, 2.0),
        draw=emitter,
        outlets=30,
    )
    model = epanet.network(inlet_psi=25.0, exponent=0.5, headloss="H-W" if hazen else "D-W")
    tees = epanet.add_line(
        model,
        "source",
        name="tee",
        outlets=6,
        spacing_ft=10.0,
        bore_in=1.049,
        roughness=140.0 if hazen else ROUGHNESS_M,
        rise=0.01,
    )
    rows = [
        epanet.add_line(
            model,
            tee,
            name=f"row{i}-",
            outlets=30,
            spacing_ft=2.0,
            bore_in=0.600,
            roughness=140.0 if hazen else ROUGHNESS_M,
            emitter=emitter,
            rise=-0.01,
            height_ft=0.01 * 10.0 * i,
        )
        for i, tee in enumerate(tees, start=1)
    ]
    theirs = epanet.pressures_psi(model)
    for branch, tee, row in zip(branches, tees, rows, strict=True):
        assert branch.inlet_pressure_psi == pytest.approx(theirs[tee], rel=0.005)
        assert branch.pressures_psi == pytest.approx([theirs[n] for n in row], rel=0.005)


# F by the exact sum for m = 1.852, as printed in tables of Christiansen factors (three decimals).
CHRISTIANSEN = [(1, 1.000), (2, 0.639), (3, 0.534), (4, 0.485), (5, 0.457), (10, 0.402),
                (20, 0.376), (50, 0.361), (100, 0.356)]  # fmt: skip


@pytest.mark.parametrize(("outlets", "printed"), CHRISTIANSEN)
def test_christiansen_factors(outlets, printed):
    assert christiansen_factor(outlets) == pytest.approx(printed, abs=0.0006)


def test_exact_sum_and_closed_form_meet():
    assert christiansen_factor(200) == pytest.approx(christiansen_factor(201), rel=1e-4)


# Hand-worked: C 140, 1 gph each foot, 20 psi, flat; longest run by the closed form for 10 and
# 20 % of the pressure.
CLOSED_FORM = [(0.520, 125, 160), (0.600, 160, 204), (0.820, 272, 347), (1.049, 415, 529)]


@pytest.mark.parametrize(("bore_in", "at_10", "at_20"), CLOSED_FORM)
def test_closed_form_longest_run(bore_in, at_10, at_20):
    for share, feet in ((0.10, at_10), (0.20, at_20)):
        ours = longest_closed_form(
            bore_in=bore_in, c=140.0, outlet_gpm=1 / 60, spacing_ft=1.0, drop_ft=share * 20 / 0.4335
        )
        assert ours == pytest.approx(feet, abs=1.0)


def test_a_march_worked_by_hand():
    # .600 in bore, C 140, 204 outlets of 1 gph a foot apart from 20 psi: 16.5 psi at the end,
    # smallest over largest flow 0.909.
    answer = lateral(
        pipe=Pipe(0.6), layout=Layout(1.0, 1.0), outlet_gph=1.0, inlet_psi=20.0, outlets=204
    )
    assert answer.end_pressure_psi == pytest.approx(16.5, abs=0.05)
    assert 1 - answer.flow_variation_pct / 100 == pytest.approx(0.909, abs=0.002)


def test_emission_uniformity_by_ep405():
    assert emission_uniformity(0.95, 1.0, 0.05) == pytest.approx(88.97, abs=0.005)
    assert emission_uniformity(0.95, 1.0, 0.0) == pytest.approx(95.0)
    assert emission_uniformity(0.95, 1.0, 0.05, 4) == pytest.approx(91.98, abs=0.01)


bores = st.floats(0.5, 2.0)
psis = st.floats(8.0, 80.0)
gphs = st.floats(0.3, 4.0)
exponents = st.floats(0.0, 1.0)
counts = st.integers(1, 80)
methods = st.sampled_from(["darcy", "hazen_williams"])
lines = st.fixed_dictionaries(
    {
        "bore": bores,
        "psi": psis,
        "gph": gphs,
        "exponent": exponents,
        "outlets": counts,
        "method": methods,
    }
)


def _solved(*, bore, psi, gph, exponent, outlets, method, rise=0.0, spacing=2.0):
    emitter = Emitter(gph / 60 / psi**exponent, exponent)
    pipe, layout = Pipe(bore, method=method, rise=rise), Layout(spacing, spacing)
    try:
        end = end_pressure(pipe, layout, emitter, outlets, psi)
    except OutOfRange:
        assume(False)
    return emitter, march(pipe, layout, emitter, outlets, end)


@given(lines, st.floats(-0.05, 0.05))
def test_the_march_balances(given_line, rise):
    emitter, line = _solved(**given_line, rise=rise)
    assert line.flow_gpm == pytest.approx(math.fsum(line.flows_gpm), rel=1e-9)
    for pressure, flow in zip(line.pressures_psi, line.flows_gpm, strict=True):
        assert flow == pytest.approx(emitter(pressure), rel=1e-12)
    # A step at the onset of turbulence may leave a little; a smooth law leaves nothing.
    close = 1e-6 if given_line["method"] == "hazen_williams" else 0.01
    assert line.inlet_psi == pytest.approx(given_line["psi"], rel=close)


@given(lines)
def test_pressure_only_falls_along_a_flat_line(given_line):
    _, line = _solved(**given_line)
    walked = (line.inlet_psi, *line.pressures_psi)
    assert all(here >= further for here, further in pairwise(walked))


@given(bores, psis, gphs, counts)
def test_a_longer_line_never_ends_with_more(bore, psi, gph, outlets):
    ends = [
        _solved(bore=bore, psi=psi, gph=gph, exponent=0.5, outlets=n, method="hazen_williams")[1]
        for n in (outlets, outlets + 1)
    ]
    assert ends[1].pressures_psi[-1] <= ends[0].pressures_psi[-1] * (1 + 1e-8)


@settings(deadline=None)
@given(bores, psis, gphs, st.floats(0.05, 0.4), st.floats(-0.06, 0.06))
def test_the_longest_run_stays_within_and_one_more_does_not(bore, psi, gph, allowed, rise):
    emitter, pipe, layout = Emitter(gph / 60 / psi**0.5, 0.5), Pipe(bore, rise=rise), Layout(3, 3)
    most = most_outlets(pipe, layout, emitter, psi, allowed)
    assume(0 < most < MOST_OUTLETS)

    def spread(outlets):
        end = end_pressure(pipe, layout, emitter, outlets, psi)
        return variation(psi, march(pipe, layout, emitter, outlets, end))

    assert spread(most) <= allowed * (1 + 1e-6)
    assert spread(most + 1) > allowed * (1 - 1e-6)


@given(bores, psis, gphs)
def test_a_tighter_limit_is_never_a_longer_run(bore, psi, gph):
    answer = lateral(pipe=Pipe(bore), layout=Layout(2, 2), outlet_gph=gph, inlet_psi=psi)
    lengths = [run.max_length_ft for run in answer.longest]
    assert lengths == sorted(lengths)
    assert answer.max_length_ft == lengths[-1]


def test_uphill_beyond_reach_is_said():
    with pytest.raises(OutOfRange, match=r"20\.0 psi does not reach the last of 100 outlets"):
        lateral(
            pipe=Pipe(0.6, rise=0.2),
            layout=Layout(5.0, 5.0),
            outlet_gph=1.0,
            inlet_psi=20.0,
            outlets=100,
        )
    with pytest.raises(OutOfRange, match="Not even one outlet"):
        lateral(pipe=Pipe(0.6, rise=0.9), layout=Layout(50, 50), outlet_gph=1.0, inlet_psi=20.0)


def test_fixed_flow_that_asks_too_much_is_said():
    with pytest.raises(OutOfRange, match="does not reach"):
        lateral(
            pipe=Pipe(0.52),
            layout=Layout(1.0, 1.0),
            outlet_gph=2.0,
            inlet_psi=15.0,
            exponent=0.0,
            outlets=900,
        )


def test_the_profile_adds_up_and_the_first_outlet_may_stand_nearer():
    answer = lateral(
        pipe=Pipe(0.6), layout=Layout(2.0, 1.0), outlet_gph=1.0, inlet_psi=20.0, outlets=40
    )
    assert answer.length_ft == pytest.approx(1.0 + 39 * 2.0)
    assert answer.profile[0].distance_ft == 1.0
    total = math.fsum(row.flow_gph for row in answer.profile) / 60
    assert answer.inlet_flow_gpm == pytest.approx(total, rel=1e-12)
    assert answer.profile[-1].line_flow_gpm == pytest.approx(answer.profile[-1].flow_gph / 60)


@given(lines, st.integers(1, 8))
def test_flows_add_up_over_a_submain(given_line, laterals):
    bore, psi, gph, method = (given_line[key] for key in ("bore", "psi", "gph", "method"))
    outlets = min(given_line["outlets"], 20)
    emitter = Emitter(gph / 60 / psi**0.5, 0.5)
    main, branches = submain(
        pipe=Pipe(bore * 2, method=method),
        layout=Layout(5.0, 5.0),
        laterals=laterals,
        inlet_psi=psi,
        lateral_pipe=Pipe(bore, method=method),
        lateral_layout=Layout(1.0, 1.0),
        draw=emitter,
        outlets=outlets,
    )
    total = math.fsum(flow for branch in branches for flow in branch.flows_gpm)
    assert main.flow_gpm == pytest.approx(total, rel=1e-4)
    walked = [branch.inlet_pressure_psi for branch in branches]
    assert all(here >= further for here, further in pairwise(walked))


def test_the_other_formula_is_shown_beside():
    def answer(method):
        return lateral(
            pipe=Pipe(0.6, method=method),
            layout=Layout(1.0, 1.0),
            outlet_gph=1.0,
            inlet_psi=20.0,
            outlets=150,
        )

    hazen, darcy = answer("hazen_williams"), answer("darcy")
    assert hazen.other_method_end_pressure_psi == pytest.approx(darcy.end_pressure_psi)
    assert darcy.other_method_end_pressure_psi == pytest.approx(hazen.end_pressure_psi)


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"lateral_pipe": Pipe(0.0)}, "bore"),
        ({"lateral_layout": Layout(0.0, 0.0)}, "spacing"),
        ({"pipe": Pipe(0.0)}, "submain.bore"),
        ({"pipe": Pipe(1.0, rise=2.0)}, "submain.slope"),
        ({"pipe": Pipe(1.0, roughness_m=0.01)}, "submain.roughness"),
        ({"inlet_psi": 0.0}, "inlet_pressure"),
    ],
)
def test_a_submain_refuses_what_no_march_can_walk_along(changed, field):
    usual = {
        "pipe": Pipe(1.049),
        "layout": Layout(10.0, 10.0),
        "laterals": 6,
        "inlet_psi": 25.0,
        "lateral_pipe": Pipe(0.600),
        "lateral_layout": Layout(2.0, 2.0),
        "draw": Emitter(0.004, 0.5),
        "outlets": 30,
    }
    with pytest.raises(OutOfRange, match=r"is not|is over") as refused:
        submain(**(usual | changed))
    assert refused.value.field == field


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ((0.0, 0.5, 20.0), "outlet_flow"),
        ((1.0, 0.5, 0.0), "inlet_pressure"),
        ((1.0, 0.5, 20.0, 0.0), "outlet_pressure"),
        ((1.0, 400.0, 20.0), "exponent"),
    ],
)
def test_an_emitter_that_gives_nothing_is_refused(given, field):
    with pytest.raises(OutOfRange, match=r"is not|is over") as refused:
        emitter_of(*given)
    assert refused.value.field == field
