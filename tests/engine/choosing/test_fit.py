"""Which ends mate, held to what the trade refuses."""

import pytest
from fluids.piping import nearest_pipe
from hypothesis import assume, given
from hypothesis import strategies as st

from fieldkit.engine.choosing.fit import (
    COPPER_SIZED,
    Refusal,
    Tube,
    hold_tube,
    mate,
    pipe_od_in,
    socket_takes_outside,
)
from fieldkit.tables.fittings import End, fit_windows
from fieldkit.tables.pipes import pipes

INCH = 0.0254


@pytest.mark.parametrize(
    ("nominal", "nps"), [("1/2", 0.5), ("3/4", 0.75), ("1", 1), ("1-1/4", 1.25)]
)
def test_pipe_outsides_agree_with_fluids(nominal, nps):
    # Witness: fluids 1.3.1, table of Sch 40 PVC pipe by NPS.
    _, _, outside, _ = nearest_pipe(NPS=nps, schedule="40D1785")
    assert pipe_od_in(nominal) == pytest.approx(outside / INCH, abs=0.0005)


@pytest.mark.parametrize(
    ("one", "other", "joint"),
    [
        (("pipe", "1/2"), ("socket", "1/2"), "solvent_socket"),
        (("spigot", "3/4"), ("socket", "3/4"), "solvent_spigot"),
        (("npt-male", "1/2"), ("npt-female", "1/2"), "npt"),
        (("npt-male", "3/4"), ("swivel-female", "3/4"), "npt_swivel"),
        (("hose-male", "3/4"), ("hose-female", "3/4"), "hose"),
        (("pipe", "1"), ("grip-pvc", "1"), "grip_pvc"),
    ],
)
def test_pairs_that_mate_do_so_from_either_side(one, other, joint):
    assert mate(End(*one), End(*other)) == joint
    assert mate(End(*other), End(*one)) == joint


@pytest.mark.parametrize(
    ("one", "other", "why"),
    [
        (("pipe", "3/4"), ("spigot", "3/4"), "socket only"),
        (("pipe", "1/2"), ("npt-female", "1/2"), "no thread"),
        (("hose-male", "3/4"), ("npt-female", "3/4"), "11.5 turns an inch"),
        (("hose-female", "3/4"), ("npt-male", "3/4"), "11.5 turns an inch"),
        (("socket", "1/2"), ("socket", "1/2"), "short piece of pipe"),
        (("spigot", "1/2"), ("grip-pvc", "1/2"), "too short"),
        (("npt-male", "1/2"), ("npt-male", "1/2"), "not made for each other"),
        (("pipe", "1/2"), ("socket", "3/4"), "1.050 in outside; this is 1/2 in, 0.840"),
        (("npt-male", "1/2"), ("npt-female", "3/4"), "1/2 in and the other 3/4"),
    ],
)
def test_pairs_that_never_mate_say_why(one, other, why):
    found = mate(End(*one), End(*other))
    assert isinstance(found, Refusal)
    assert why in found.why


# Refusals that the trade's hard rules ask for: (end, outside, bore, words of the reason).
MUST_REFUSE = [
    (("ring", "0.700"), 0.680, 0.580, "refuses a 0.680 in tube: it takes 0.692 to 0.706"),
    (("ring", "0.710"), 0.700, 0.600, "takes 0.702 to 0.716"),
    (("collar", "0.620-0.710"), 0.742, 0.622, "takes 0.620 to 0.710"),
    (
        ("collar", "0.620-0.710"),
        0.690,
        0.490,
        "needs a bore of 0.510 in or more; this bore is 0.490",
    ),
    (("barb", "0.600"), 0.620, 0.520, "too large for a 0.520 in bore"),
    (("barb", "0.520"), 0.700, 0.600, "loose in a 0.600 in bore"),
    (("barb", "0.600"), 0.700, None, "measure the bore first"),
    (("ring", "0.700"), None, 0.600, "measure that first"),
    (("micro-barb", "1/4"), 0.185, 0.125, "takes 0.156 to 0.170"),
]


@pytest.mark.parametrize(("end", "od", "bore", "why"), MUST_REFUSE)
def test_tube_ends_refuse_with_the_numbers(end, od, bore, why):
    found = hold_tube(End(*end), Tube(od, bore))
    assert isinstance(found, Refusal)
    assert why in found.why


@pytest.mark.parametrize("od_in", [0.620, 0.700, 0.710])
def test_a_half_inch_screw_up_nut_takes_the_three_common_tubes(od_in):
    (way,) = hold_tube(End("collar", "0.620-0.710"), Tube(od_in, None))
    assert way.kind == "collar"


def test_thick_pipe_is_never_left_without_a_clamp():
    thick = Tube(0.742, 0.622)
    for end in (End("barb", "sidr 1/2"), End("barb", "0.620")):
        ways = hold_tube(end, thick)
        assert {way.kind for way in ways} == {"barb_clamped"}
    ceilings = {way.clamps: way.ceiling_psi for way in hold_tube(End("barb", "sidr 1/2"), thick)}
    assert ceilings == {1: 80.0, 2: 100.0}


def test_a_bare_barb_on_thin_tubing_bears_30_psi_and_a_clamped_one_60():
    ways = hold_tube(End("barb", "0.600"), Tube(0.700, 0.600))
    assert {(way.clamp_kind, way.ceiling_psi) for way in ways} == {
        ("", 30.0),
        ("screw", 60.0),
        ("pinch", 60.0),
    }
    assert [way.undone_whole for way in ways] == [True, True, False]


def test_half_inch_of_an_unknown_kind_gets_only_ends_for_all_of_it():
    unknown = Tube(None, None, half_inch=True)
    taking = {end for end in fit_windows() if not isinstance(hold_tube(end, unknown), Refusal)}
    assert taking == {End("collar", "0.620-0.710"), End("grip-tube", "0.620-0.710")}


@pytest.mark.parametrize(
    ("nominal", "od_in", "why"),
    [
        ("1/2", 0.625, "0.215 in under the 0.840 in"),
        ("3/4", 25 / 25.4, "0.066 in under the 1.050 in"),
        ("1/2", 0.900, "0.060 in over the 0.840 in"),
    ],
)
def test_pipe_of_another_family_is_refused_by_its_outside(nominal, od_in, why):
    found = socket_takes_outside(nominal, od_in)
    assert found is not None
    assert why in found.why


@pytest.mark.parametrize(
    ("bore_in", "takes"),
    [(0.600, "0.700"), (0.580, "0.700"), (0.620, "0.710"), (0.615, "0.710"), (None, None)],
)
def test_an_outside_between_two_rings_is_told_by_the_bore(bore_in, takes):
    # 0.704 lies in both windows; tubes of 0.700 have bores to 0.600, those of 0.710 one of 0.620.
    tube = Tube(0.704, bore_in)
    taking = [
        s for s in ("0.700", "0.710") if not isinstance(hold_tube(End("ring", s), tube), Refusal)
    ]
    assert taking == ([takes] if takes else [])


# ASTM D2737 and F876: 1/2 in CTS is 0.625 ± 0.004 outside, so 0.626 still lies in the window of
# the ring for 0.620 in drip tubing, whose own bore is 0.520; SDR 9 leaves a bore under 0.490.
@pytest.mark.parametrize(
    ("bore_in", "family", "why"),
    [
        (None, "cts-pe", "not made for tubing of copper tube size"),
        (0.520, "cts-pex", "not made for tubing of copper tube size"),
        (None, "", "measure the bore first"),
        (0.485, "", "By its 0.485 in bore"),
        (0.520, "", None),
        (None, "drip", None),
    ],
)
def test_copper_tube_size_never_passes_for_drip_tubing_in_a_ring(bore_in, family, why):
    found = hold_tube(End("ring", "0.620"), Tube(0.625, bore_in, family=family))
    assert isinstance(found, Refusal) == (why is not None)
    assert why is None or why in found.why


@pytest.mark.parametrize("row", [one for one in pipes().values() if one.family in COPPER_SIZED])
def test_no_end_for_drip_tubing_takes_tubing_named_as_copper_tube_size(row):
    tube = Tube(row.od_in, row.bore_in, family=row.family)
    assert all(isinstance(hold_tube(end, tube), Refusal) for end in fit_windows())


@given(st.floats(0.6, 1.0), st.sampled_from([end for end in fit_windows() if end.kind == "ring"]))
def test_a_ring_takes_exactly_its_window(od_in, end):
    window = fit_windows()[end]
    edge = min(abs(od_in - window.low_in), abs(od_in - window.high_in))
    assume(edge > 0.0006)  # a caliper shows thousandths
    tube = Tube(od_in, window.usual_bore_in)
    takes = not isinstance(hold_tube(end, tube), Refusal)
    assert takes == (window.low_in < od_in < window.high_in)


@given(st.floats(0.15, 1.3), st.floats(0.01, 0.12))
def test_every_end_holds_or_gives_a_reason(od_in, wall_in):
    tube = Tube(od_in, od_in - 2 * wall_in)
    for end in fit_windows():
        found = hold_tube(end, tube)
        assert found.why if isinstance(found, Refusal) else found
