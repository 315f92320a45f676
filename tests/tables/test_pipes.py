"""The pipe table against programs and printed tables that we did not write."""

import dataclasses

import pytest
from fluids.piping import nearest_pipe

from fieldkit.engine.pipes import rigid_pvc
from fieldkit.engine.problems import OutOfRange
from fieldkit.tables import pipes as table
from fieldkit.tables.load import BadTable, load
from fieldkit.tables.pipes import Pipe, ips_pvc, pipes

# The keys by which fluids 1.3.1 holds the same standards. Looked up by NPS only: by outside
# diameter it answers the next size up.
FLUIDS_KEYS = {
    "Sch 40": "40D1785",
    "Sch 80": "80D1785",
    "SDR 13.5": "DR135D2241",
    "SDR 17": "DR17D2241",
    "SDR 21": "DR21D2241",
    "SDR 26": "DR26D2241",
    "SDR 32.5": "DR325D2241",
    "SDR 41": "DR41D2241",
}
INCH_M = 0.0254


@pytest.mark.parametrize("pipe", ips_pvc().values(), ids=lambda p: p.id)
def test_rigid_pvc_agrees_with_fluids(pipe):
    _, bore, od, wall = nearest_pipe(NPS=pipe.nominal_in, schedule=FLUIDS_KEYS[pipe.pipe_class])
    assert pipe.od_in == pytest.approx(od / INCH_M, abs=0.0005)
    assert pipe.wall_in == pytest.approx(wall / INCH_M, abs=0.0005)
    # Its bore is the largest that the standard allows: outside less twice the minimum wall.
    assert pipe.bore_in + pipe.bore_plus_in == pytest.approx(bore / INCH_M, abs=0.0011)


@pytest.mark.parametrize(
    ("family", "key"), [("cts-pvc", "DR11D2241CTS"), ("ips-pe", "DR11F2619IPS")]
)
def test_other_series_agree_with_fluids(family, key):
    rows = [p for p in pipes().values() if p.family == family]
    assert len(rows) == 6
    for pipe in rows:
        _, _, od, wall = nearest_pipe(NPS=pipe.nominal_in, schedule=key)
        assert pipe.od_in == pytest.approx(od / INCH_M, abs=0.001), pipe.id
        assert pipe.wall_in == pytest.approx(wall / INCH_M, abs=0.001), pipe.id


# "Average ID" as two public PVC tables print it (outside less 2 × 1.06 × minimum wall).
PRINTED_AVERAGE_BORE = [("1/2", 0.608), ("3/4", 0.810), ("1", 1.033), ("1-1/4", 1.364),
                        ("1-1/2", 1.592), ("2", 2.049), ("3", 3.042), ("4", 3.998)]  # fmt: skip


@pytest.mark.parametrize(("nominal", "printed_in"), PRINTED_AVERAGE_BORE)
def test_printed_average_bore_lies_in_our_span(nominal, printed_in):
    pipe = rigid_pvc(nominal, "Sch 40")
    assert pipe.bore_in - pipe.bore_minus_in < printed_in < pipe.bore_in + pipe.bore_plus_in


# ASTM D1785 Table 1: tolerance on average outside diameter and out-of-roundness of Sch 40.
D1785_TOLERANCES = [("1/2", 0.004, 0.016), ("3/4", 0.004, 0.020), ("1", 0.005, 0.020),
                    ("1-1/4", 0.005, 0.024), ("1-1/2", 0.006, 0.024),
                    ("2", 0.006, 0.024)]  # fmt: skip


@pytest.mark.parametrize(("nominal", "tolerance_in", "oor_in"), D1785_TOLERANCES)
def test_tolerances_are_those_of_d1785(nominal, tolerance_in, oor_in):
    pipe = rigid_pvc(nominal, "Sch 40")
    assert (pipe.od_minus_in, pipe.od_plus_in) == (tolerance_in, tolerance_in)
    assert pipe.oor_max_in == oor_in


@pytest.mark.parametrize("pipe", [p for p in pipes().values() if p.family.startswith("cts")],
                         ids=lambda p: p.id)  # fmt: skip
def test_copper_tube_sizes_are_nominal_plus_an_eighth(pipe):
    # ASTM B88: the outside diameter is one eighth of an inch over the trade size.
    assert pipe.od_in == pytest.approx(pipe.nominal_in + 0.125)


@pytest.mark.parametrize("pipe", [p for p in pipes().values() if p.standard.startswith("ISO")],
                         ids=lambda p: p.id)  # fmt: skip
def test_metric_sizes_are_their_millimetres_and_never_less(pipe):
    # ISO 161-1: the trade size is the least mean outside diameter.
    assert pipe.od_in * 25.4 == pytest.approx(float(pipe.nominal.removesuffix(" mm")), abs=0.005)
    assert pipe.od_minus_in == 0
    assert pipe.od_plus_in * 25.4 == pytest.approx(0.3, abs=0.005)


def test_insert_pipe_bores_are_schedule_40_bores():
    # ASTM D2239 takes the bores of Sch 40 pipe, and its walls are bore over SIDR, 0.060 at least.
    for pipe in pipes().values():
        if pipe.family != "sidr-pe":
            continue
        sch40 = rigid_pvc(pipe.nominal, "Sch 40")
        assert pipe.bore_in == pytest.approx(sch40.od_in - 2 * sch40.wall_in, abs=0.0006)
        sidr = float(pipe.pipe_class.removeprefix("SIDR-"))
        assert pipe.wall_in == pytest.approx(max(pipe.bore_in / sidr, 0.060), abs=0.0006)


def test_every_rule_of_the_table_holds():
    table.check()
    assert len(pipes()) == len(load("pipes", Pipe)) > 150


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"wall_in": 0.5}, "half the outside"),
        ({"bore_in": 0.7}, "is not left by outside and wall"),
        ({"family": "ips"}, "must be one of"),
        ({"material": "rubber"}, "must be one of"),
        ({"share": 0.0}, "above 0"),
        ({"wall_plus_in": None}, "minus and plus"),
        ({"unverified": ("wall",)}, "not columns"),
        ({"od_in": 1.05, "bore_in": None, "bore_minus_in": None, "bore_plus_in": None},
         "must rise"),
        ({"nominal": "3/4"}, "stands twice"),
        ({"id": "pvc-ips-0750-sch40"}, "stands twice"),
    ],
)  # fmt: skip
def test_a_broken_row_is_found(monkeypatch, change, message):
    good = load("pipes", Pipe)
    bad = tuple(
        dataclasses.replace(p, **change) if p.id == "pvc-ips-0500-sch40" else p for p in good
    )
    monkeypatch.setattr(table, "load", lambda *_: bad)
    with pytest.raises(BadTable, match=message):
        table.check()


@pytest.mark.parametrize(
    ("nominal", "pipe_class", "field", "message"),
    [
        ("1/2", "SDR 21", "pvc.class", "Sch 40, Sch 80, SDR 13.5"),
        ("1/2", "SDR 40", "pvc.class", "is not a rigid PVC pipe class"),
        ("7/8", "Sch 40", "pvc.nominal", "3/8, 1/2, 3/4, 1, 1-1/4"),
    ],
)
def test_a_pipe_that_is_not_made_is_refused_with_those_that_are(
    nominal, pipe_class, field, message
):
    with pytest.raises(OutOfRange, match=message) as caught:
        rigid_pvc(nominal, pipe_class, "pvc")
    assert caught.value.field == field
