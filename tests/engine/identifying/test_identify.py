"""Identification against Bayes' rule done by other means, and against a worked decision rule."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import multivariate_normal, norm

from fieldkit.engine.identifying.identify import identify
from fieldkit.engine.identifying.model import Reading, products
from fieldkit.engine.identifying.posterior import REGION_WEIGHTS, Evidence, posterior
from fieldkit.engine.identifying.words import chance_words
from fieldkit.engine.problems import OutOfRange, Problem
from fieldkit.tables.pipes import pipes


def by_id(found):
    return {one["id"]: one["probability"] for one in found.candidates}


# ── Outside witness: the same model written with scipy and whole matrices ───────────────────


def middle_and_variance(value, minus, plus):
    return value + (plus - minus) / 2, ((minus + plus) / 2) ** 2 / 3


def matrix_model(pipe):
    """Mean and covariance of (outside, wall, bore) from the table alone."""
    od = middle_and_variance(pipe.od_in, pipe.od_minus_in, pipe.od_plus_in)
    bore = wall = None
    if pipe.bore_in is not None:
        bore = middle_and_variance(pipe.bore_in, pipe.bore_minus_in, pipe.bore_plus_in)
    if pipe.wall_in is not None:
        wall = middle_and_variance(pipe.wall_in, pipe.wall_minus_in, pipe.wall_plus_in)
    else:
        wall = ((od[0] - bore[0]) / 2, (od[1] - bore[1]) / 4)
    if pipe.sized_by == "ID" and bore is not None:
        shape = np.array([[1, 2], [0, 1], [1, 0]])
        mean, var = (bore[0], wall[0]), (bore[1], wall[1])
    else:
        shape = np.array([[1, 0], [0, 1], [1, -2]])
        mean, var = (od[0], wall[0]), (od[1], wall[1])
    return shape @ np.array(mean), shape @ np.diag(var) @ shape.T


def hand_bayes(od_in, u_od_in, wall=None, bore=None):
    """Posterior over the rows by matrices; "unlisted" by the densities the module states."""
    picks, values, errors = [0], [od_in], [u_od_in / 2]
    unlisted = 0.05 / (od_in * math.log(60))
    if wall:
        picks, values, errors = [*picks, 1], [*values, wall[0]], [*errors, wall[1] / 2]
        unlisted /= wall[0] * math.log(25)
    if bore:
        picks, values, errors = [*picks, 2], [*values, bore[0]], [*errors, bore[1] / 2]
        if wall:
            sd = math.sqrt(errors[0] ** 2 + 4 * errors[1] ** 2 + errors[2] ** 2)
            unlisted *= norm.pdf(bore[0], od_in - 2 * wall[0], sd)
        else:
            unlisted /= 0.6 * od_in
    shares = sum(pipe.share for pipe in pipes().values())
    weights = {"unlisted": unlisted}
    for pipe in pipes().values():
        mean, cov = matrix_model(pipe)
        mean, cov = mean[picks], cov[np.ix_(picks, picks)] + np.diag(np.square(errors))
        weights[pipe.id] = 0.95 * pipe.share / shares * multivariate_normal.pdf(values, mean, cov)
    total = sum(weights.values())
    return {name: weight / total for name, weight in weights.items()}


@pytest.mark.parametrize(
    "known",
    [
        {"od": 0.700},
        {"od": 0.8405, "wall": 0.113},
        {"od": 0.705, "bore": 0.612},
        {"od": 0.755, "bore": 0.622},
        {"od": 1.050, "wall": 0.064, "bore": 0.920},
        {"od": 0.775},
        {"od": 0.800, "wall": 0.090, "bore": 0.615},
    ],
)
def test_posterior_is_the_one_scipy_gives(known):
    theirs = hand_bayes(
        known["od"],
        0.0042,
        (known["wall"], 0.006) if "wall" in known else None,
        (known["bore"], 0.008) if "bore" in known else None,
    )
    readings = [Reading("od", known["od"], 0.0021)]
    if "wall" in known:
        readings.append(Reading("wall", known["wall"], 0.003))
    if "bore" in known:
        readings.append(Reading("bore", known["bore"], 0.004))
    ours = posterior(Evidence(tuple(readings)))
    for one in ours:
        name = one.product.pipe.id if one.product else "unlisted"
        assert one.probability == pytest.approx(theirs[name], abs=1e-9), name


# ── A worked decision rule (GUM uncertainty and product tolerance, z of 2 or less) ──────────


def test_worked_example_0700_against_0710():
    # u = 0.0021 and ±0.005 on each: telling them apart takes 2·2·√(0.0021² + 0.005²/3) = 0.014,
    # and there is 0.010, so the outside can never decide it.
    needed = 4 * math.sqrt(0.0021**2 + 0.005**2 / 3)
    assert needed == pytest.approx(0.014, abs=0.0005)
    found = identify(od_in=0.705, u_od_in=0.0042, rigid=False)
    rival = next(one for one in found.cannot_by_od if one["id"] == "drip-0710x0620")
    assert rival["gap_in"] == pytest.approx(0.010, abs=1e-9)
    assert rival["needed_in"] == pytest.approx(needed, abs=1e-9)
    assert not found.decided
    assert found.next_measurement in {"print", "bore"}
    possible = {one["id"] for one in found.candidates if (one["z_od"] or 0) <= 2 and one["od_in"]}
    assert {"drip-0700x0600", "drip-0710x0620", "drip-0705x0615"} <= possible


@pytest.mark.parametrize("od_in", [0.700, 0.705, 0.710])
@pytest.mark.parametrize("u_od_in", [0.001, 0.002, 0.0042])
def test_no_caliper_decides_the_0700_family_by_its_outside(od_in, u_od_in):
    # The same rule: with two or more possible it is ambiguous, however common one of them is.
    found = identify(od_in=od_in, u_od_in=u_od_in, rigid=False)
    assert not found.decided
    assert found.next_measurement in {"print", "bore", "wall"}


@pytest.mark.parametrize(("bore_in", "od_in", "expected"),
                         [(0.600, 0.700, "drip-0700x0600"), (0.580, 0.700, "drip-0700x0580"),
                          (0.600, 0.703, "drip-0700x0600")])  # fmt: skip
def test_a_bore_decides_what_the_outside_cannot(bore_in, od_in, expected):
    found = identify(od_in=od_in, u_od_in=0.0042, bore_in=bore_in, rigid=False)
    assert found.candidates[0]["id"] == expected
    assert found.decided


def test_0710_by_bore_leads_and_0700_is_out():
    found = identify(od_in=0.710, u_od_in=0.0042, bore_in=0.620, rigid=False)
    assert found.candidates[0]["id"] == "drip-0710x0620"
    assert by_id(found).get("drip-0700x0600", 0.0) < 0.02


def test_iron_pipe_size_is_told_from_metric_and_copper_sizes():
    # Dimensions table: 32 mm pipe is 0.055 under IPS 1, CTS 1-1/4 0.035 under IPS 1-1/4.
    for od_in, nominal in ((1.315, "1"), (1.660, "1-1/4")):
        found = identify(od_in=od_in, u_od_in=0.0024, rigid=True)
        assert (found.settled["family"], found.settled["nominal"]) == ("ips-pvc", nominal)


def test_schedule_is_open_by_outside_alone_and_settled_by_the_wall():
    # ASTM D1785: one outside for every schedule; minimum walls 0.109 and 0.147 for 1/2 in.
    alone = identify(od_in=0.840, u_od_in=0.0024, rigid=True)
    assert not alone.decided
    assert alone.settled == {"family": "ips-pvc", "nominal": "1/2", "class": None}
    assert alone.next_measurement in {"wall", "bore", "print"}
    print_of = {"Sch 40": "SCH 40 ASTM D1785 600 PSI", "Sch 80": "SCH 80 ASTM D1785 850 PSI",
                "SDR 13.5": "SDR 13.5 PVC 1120 ASTM D2241 315 PSI"}  # fmt: skip
    for wall_in, pipe_class in ((0.115, "Sch 40"), (0.153, "Sch 80"), (0.070, "SDR 13.5")):
        found = identify(od_in=0.840, u_od_in=0.0024, rigid=True, wall_in=wall_in)
        assert found.settled["class"] == pipe_class
        # Conduit has these sizes too (UL 651 and NEMA TC 2): only the print rules it out.
        assert not found.decided
        assert found.next_measurement == "print"
        assert {one["family"] for one in found.look_alikes} >= {"conduit"}
        read = identify(
            od_in=0.840,
            u_od_in=0.0024,
            rigid=True,
            wall_in=wall_in,
            print_line=print_of[pipe_class],
        )
        assert read.decided, pipe_class
        assert read.look_alikes == ()


def test_a_lone_odd_outside_is_unlisted():
    for od_in in (1.45, 1.085, 5.0, 0.56):
        found = identify(od_in=od_in, u_od_in=0.0024, rigid=True)
        assert found.candidates[0]["id"] == "unlisted", od_in
        assert found.verdict == "unlisted"
        assert not found.decided


def test_thick_gas_pipe_passes_for_rigid_and_is_named_still():
    # ASTM D2513 SDR 11 at 2 in. IPS has a wall of 0.216, schedule 80 of PVC one of 0.218.
    found = identify(od_in=2.375, u_od_in=0.003, rigid=True, wall_in=0.226)
    assert "gas" in {one["stops"] for one in found.look_alikes}
    assert not found.decided
    assert any("Gas pipe comes in such sizes" in one for one in found.cautions)
    line = "2 IN SCH 80 PVC 1120 ASTM D1785 400 PSI"
    read = identify(od_in=2.375, u_od_in=0.003, rigid=True, wall_in=0.226, print_line=line)
    assert read.look_alikes == ()
    assert read.decided


def test_conduit_is_named_as_no_water_pipe():
    found = identify(od_in=0.840, u_od_in=0.0024, rigid=True, wall_in=0.115)
    assert any("not made to hold water" in one for one in found.cautions)
    sewer = identify(od_in=4.215, u_od_in=0.006, rigid=True)
    assert sewer.candidates[0]["id"] == "sewer-4000-sdr35"
    assert sewer.not_for_pressure == "sewer or drain-field pipe"
    assert "not made to hold pressure" in sewer.headline


def test_readings_that_do_not_add_up_are_never_decided():
    found = identify(od_in=0.840, u_od_in=0.0024, rigid=True, wall_in=0.109, bore_in=0.700)
    assert found.verdict == "measure again"
    assert not found.decided
    assert set(found.settled.values()) == {None}


def test_print_line_names_it_alone_and_beside_a_size():
    line = '1/2" SCH 40 PVC 1120 ASTM D1785 NSF-pw 600 PSI @ 73F'
    assert identify(print_line=line).candidates[0]["id"] == "pvc-ips-0500-sch40"
    conduit = identify(od_in=0.840, rigid=True, print_line='1/2" SCH 40 PVC CONDUIT UL 651')
    assert conduit.candidates[0]["id"] == "conduit-ips-0500-sch40"


def test_a_print_line_does_not_overrule_a_plain_outside():
    found = identify(od_in=0.620, u_od_in=0.0042, print_line="0.700 x 0.600")
    assert by_id(found).get("drip-0700x0600", 0.0) < 0.01
    assert any("does not fit" in one for one in found.cautions)


def test_region_moves_the_odds_its_way():
    here = by_id(identify(od_in=0.630, u_od_in=0.0042, rigid=False, region="na"))
    there = by_id(identify(od_in=0.630, u_od_in=0.0042, rigid=False, region="metric"))
    assert there["lateral-16"] > here["lateral-16"]
    assert there.get("drip-0620x0520", 0.0) < here["drip-0620x0520"]


# ── Every row names itself ──────────────────────────────────────────────────────────────────


def cannot_be_told(one, other):
    """Twins: what may be sold as the one may, to a caliper, be sold as the other."""
    for size in ("od", "wall", "bore"):
        a, var_a = one.expect(one.belief, size)
        b, var_b = other.expect(other.belief, size)
        # A tolerance of half-width T has variance T²/3.
        if abs(a - b) > math.sqrt(3 * var_a) + math.sqrt(3 * var_b) + 0.006:
            return False
    return True


@pytest.mark.parametrize("row", products(), ids=lambda row: row.pipe.id)
def test_a_row_identifies_itself_or_a_twin(row):
    sizes = {f"{size}_in": row.expect(row.belief, size)[0] for size in ("od", "wall", "bore")}
    found = identify(**sizes, u_od_in=0.0024, rigid=row.pipe.rigid, region=None)
    assert row.pipe.id in by_id(found)
    leader = next(p for p in products() if p.pipe.id == found.candidates[0]["id"])
    assert leader.pipe.rigid == row.pipe.rigid
    assert cannot_be_told(row, leader)


# ── Properties ──────────────────────────────────────────────────────────────────────────────

sizes_in = st.floats(0.1, 6.0)
spreads_in = st.floats(0.0, 0.1)


anything_known = st.fixed_dictionaries(
    {"od_in": sizes_in},
    optional={
        "u_od_in": spreads_in,
        "wall": st.floats(0.05, 0.45),
        "bore": st.floats(0.2, 0.98),
        "rigid": st.booleans(),
        "print_line": st.sampled_from(["SCH 40", "17 mm", "0.700 x 0.600", "ASTM D2241 PR 200"]),
        "region": st.sampled_from(["na", "oceania", "metric"]),
    },
)


@settings(max_examples=150, deadline=None)
@given(anything_known)
def test_probabilities_sum_to_one_and_gains_are_not_negative(known):
    shares = {size: known[size] for size in ("wall", "bore") if size in known}
    asked = {name: one for name, one in known.items() if name not in shares}
    asked |= {f"{size}_in": share * known["od_in"] for size, share in shares.items()}
    found = identify(**asked)
    chances = [one["probability"] for one in found.as_json()["candidates"]]
    assert sum(chances) == pytest.approx(1.0, abs=1e-9)
    assert all(0 <= one <= 1 for one in chances)
    assert chances == sorted(chances, reverse=True)
    assert sum(one["id"] == "unlisted" for one in found.candidates) == 1
    assert all(gain >= 0 for gain in found.next["gains_bits"].values())
    assert found.next_measurement in {"wall", "bore", "print", "rigid", None}
    assert {"print": "print_line"}.get(found.next_measurement, found.next_measurement) not in known
    assert not (found.decided and found.candidates[0]["probability"] < 0.9)


@settings(max_examples=60, deadline=None)
@given(sizes_in, st.floats(0.02, 0.2), st.floats(0.3, 0.95), st.permutations(range(3)))
def test_the_order_of_readings_does_not_matter(od_in, wall_in, bore_share, order):
    readings = (
        Reading("od", od_in, 0.002),
        Reading("wall", wall_in, 0.003),
        Reading("bore", od_in * bore_share, 0.004),
    )
    first = posterior(Evidence(readings))
    other = posterior(Evidence(tuple(readings[i] for i in order)))
    ours = {one.product.pipe.id if one.product else "": one.probability for one in first}
    theirs = {one.product.pipe.id if one.product else "": one.probability for one in other}
    assert ours.keys() == theirs.keys()
    for name, chance in ours.items():
        assert chance == pytest.approx(theirs[name], abs=1e-7)


def test_a_worse_caliper_never_tells_more_on_average():
    """Blackwell: a reading with more error is the better one garbled, so it cannot inform more.

    At one reading the posterior may sharpen by luck; averaged over the readings that the model
    expects, the entropy left can only rise with the error.
    """
    grid = np.arange(0.30, 1.60, 0.001)
    shares = np.array([p.pipe.share for p in products()])
    means = np.array([p.od_mean for p in products()])
    variances = np.array([p.od_var for p in products()])
    left = []
    for u_in in (0.001, 0.002, 0.004, 0.008, 0.016):
        sd = np.sqrt(variances + u_in**2)
        expected = (norm.pdf(grid[:, None], means, sd) * 0.95 * shares / shares.sum()).sum(1)
        expected += 0.05 / (grid * math.log(60))
        entropies = []
        for od_in in grid:
            chances = [
                one.probability for one in posterior(Evidence((Reading("od", od_in, u_in),)))
            ]
            entropies.append(-sum(p * math.log2(p) for p in chances if p > 0))
        left.append(float((expected * np.array(entropies)).sum() * 0.001))
    assert left == sorted(left)
    assert left[-1] > left[0] + 0.2


@pytest.mark.parametrize("od_in", [0.620, 0.670, 0.700, 1.050, 1.315])
def test_a_worse_caliper_is_less_sure_of_a_size_read_on_the_dot(od_in):
    chances = [
        by_id(identify(od_in=od_in, u_od_in=u))[identify(od_in=od_in).candidates[0]["id"]]
        for u in (0.004, 0.01, 0.02, 0.04)
    ]
    assert chances == sorted(chances, reverse=True)


# ── What cannot be answered ─────────────────────────────────────────────────────────────────


@pytest.mark.parametrize(
    ("asked", "field"),
    [
        ({}, "od"),
        ({"rigid": True, "region": "na"}, "od"),
        ({"print_line": "hello"}, "print_line"),
        ({"od_in": 0.0}, "od"),
        ({"od_in": float("nan")}, "od"),
        ({"od_in": 0.7, "bore_in": 0.7}, "bore"),
        ({"od_in": 0.7, "wall_in": 0.35}, "wall"),
        ({"od_in": 0.7, "u_od_in": -0.1}, "u_od"),
    ],
)
def test_what_cannot_be_is_refused_by_name(asked, field):
    with pytest.raises((OutOfRange, Problem), match=r"\w") as caught:
        identify(**asked)
    assert caught.value.field == field


def test_a_default_uncertainty_is_listed_in_the_working():
    found = identify(od_in=0.7, rigid=False, bore_in=0.6)
    taken = [line for line in found.working if line.formula == "not given"]
    assert [line.value for line in taken] == [pytest.approx(0.0042), pytest.approx(0.008)]
    assert {line.status for line in taken} == {"common practice, no source"}


def test_sentences_are_short():
    for asked in ({"od_in": 0.7}, {"od_in": 0.84}, {"od_in": 1.45}, {"bore_in": 0.6},
                  {"od_in": 0.742, "rigid": False}, {"od_in": 0.622}):  # fmt: skip
        found = identify(**asked)
        for text in (found.headline, *found.cautions, found.next["how"]):
            for sentence in str(text).split(". "):
                assert len(sentence.split()) <= 24, sentence


def test_chances_in_words_keep_their_order():
    words = list(dict.fromkeys(chance_words(p / 1000) for p in range(1001)))
    assert len(words) == 14
    assert words[0] == "less than 1 in 100"
    assert words[-1] == "all but certain"


@pytest.mark.parametrize("region", REGION_WEIGHTS)
def test_a_weight_is_a_share_and_what_is_sold_here_or_everywhere_counts_in_full(region):
    weights = REGION_WEIGHTS[region]
    assert weights[region] == weights["any"] == 1.0
    assert all(0.0 < weight <= 1.0 for weight in weights.values())
