"""Dry fits against the socket geometry of ASTM D2466 and the published third-to-two-thirds."""

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldkit.engine.joining.dry_fit import WORDS, dry_fit_stop, judge_dry_fit, judge_od_in_socket
from fieldkit.engine.problems import OutOfRange

# ASTM D2466 sockets, read as the identical series in D2468-96a Table 1, typed from that table:
# size, pipe OD, ± pipe, entrance, bottom. A nominal pipe stops at two thirds in every size.
D2466 = [
    ("1/2", 0.840, 0.004, 0.848, 0.836), ("3/4", 1.050, 0.004, 1.058, 1.046),
    ("1", 1.315, 0.005, 1.325, 1.310), ("1-1/4", 1.660, 0.005, 1.670, 1.655),
    ("1-1/2", 1.900, 0.006, 1.912, 1.894), ("2", 2.375, 0.006, 2.387, 2.369),
    ("2-1/2", 2.875, 0.007, 2.889, 2.868), ("3", 3.500, 0.008, 3.516, 3.492),
    ("4", 4.500, 0.009, 4.518, 4.491),
]  # fmt: skip


@pytest.mark.parametrize(("size", "od_in", "tol_in", "entrance_in", "bottom_in"), D2466)
def test_nominal_pipe_stops_at_two_thirds(size, od_in, tol_in, entrance_in, bottom_in):
    assert dry_fit_stop(entrance_in, bottom_in, od_in) == pytest.approx(2 / 3)
    assert judge_od_in_socket(size, od_in).word == "snug"
    # Thickest pipe allowed stops at a third, still snug; thinnest just bottoms.
    assert judge_od_in_socket(size, od_in + tol_in).word == "snug"
    assert judge_od_in_socket(size, od_in - tol_in).word == "bottoms"
    # Just outside it the caliper (U = 0.004 in) cannot tell; twice that is surely not this pipe.
    assert judge_od_in_socket(size, od_in - tol_in - 0.003).word == "bottoms"
    assert judge_od_in_socket(size, od_in - tol_in - 0.006).word == "unsure"
    assert judge_od_in_socket(size, od_in - tol_in - 0.009).word == "falls off"
    assert judge_od_in_socket(size, od_in + tol_in + 0.009).word == "tight"
    assert judge_od_in_socket(size, od_in - tol_in - 0.003, 0.001).word == "falls off"


# Standard deviation of a caliper's mean on rigid pipe [in], and the shapes of a maker's spread.
CALIPER_IN = 0.002


@pytest.mark.parametrize("spread", ["even", "middle", "edge"])
def test_legal_pipe_is_never_refused(spread):
    chance = random.Random(2466)  # noqa: S311
    draws = {
        "even": lambda: chance.uniform(-1.0, 1.0),
        "middle": lambda: max(-1.0, min(1.0, chance.gauss(0.0, 0.4))),
        "edge": lambda: chance.choice((-1.0, 1.0)),
    }
    refused = 0
    for size, od_in, tol_in, _, _ in D2466:
        for _ in range(500):
            true_in = od_in + tol_in * draws[spread]()  # ASTM D1785 tolerance of the mean outside
            read_in = true_in + chance.gauss(0.0, CALIPER_IN)
            refused += not judge_od_in_socket(size, read_in).use
    assert refused == 0


# Outsides of other pipe that people push into an IPS socket: copper tube size (ASTM D2846) and
# metric (ISO 161-1), mean outside [in].
@pytest.mark.parametrize(
    ("size", "other_in"),
    [("1/2", 0.625), ("3/4", 0.875), ("1", 1.125), ("3/4", 0.984), ("1", 1.260),
     ("1-1/4", 1.575), ("1-1/2", 1.9745), ("1/2", 0.787)],
)  # fmt: skip
def test_other_pipe_is_always_refused(size, other_in):
    chance = random.Random(2846)  # noqa: S311
    for _ in range(500):
        assert not judge_od_in_socket(size, other_in + chance.gauss(0.0, CALIPER_IN)).use


def test_the_stop_of_real_parts_lies_in_the_range_told():
    # Pipe and socket drawn within ASTM D1785 and D2466: both diameters of a socket ± 0.004 in.
    chance = random.Random(1785)  # noqa: S311
    inside = 0
    for _ in range(2000):
        true_in = 0.840 + chance.uniform(-0.004, 0.004)
        off_in = chance.uniform(-0.004, 0.004)
        found = judge_od_in_socket("1/2", true_in + chance.gauss(0.0, CALIPER_IN))
        stop = min(1.0, max(0.0, dry_fit_stop(0.848 + off_in, 0.836 + off_in, true_in)))
        inside += found.stop_low - 1e-9 <= stop <= found.stop_high + 1e-9
    assert inside / 2000 > 0.95


# Copper-tube-size pipe (0.625 in) in an iron-pipe-size ½ in socket rattles and never bonds.
def test_copper_size_pipe_falls_off():
    judged = judge_od_in_socket("1/2", 0.625)
    assert (judged.word, judged.use) == ("falls off", False)


@pytest.mark.parametrize(
    ("stop", "word", "use", "heavier"),
    [
        (-0.1, "tight", False, False), (0.0, "tight", False, False),
        (0.33, "tight", False, False), (1 / 3, "snug", True, False),
        (2 / 3, "snug", True, False), (0.7, "deep", True, True),
        (1.0, "bottoms", True, True), (1.3, "bottoms", True, True),
    ],
)  # fmt: skip
def test_the_published_rule(stop, word, use, heavier):
    judged = judge_dry_fit(stop)
    assert (judged.word, judged.use, judged.heavier_body) == (word, use, heavier)


@pytest.mark.parametrize("word", WORDS)
def test_a_word_is_judged_as_itself(word):
    assert judge_dry_fit(word).word == word


def test_unknown_words_and_sizes_are_refused():
    with pytest.raises(OutOfRange, match="is not a dry fit we can judge"):
        judge_dry_fit("wobbly")
    with pytest.raises(OutOfRange, match="No socket of size 6"):
        judge_od_in_socket("6", 6.625)


@given(st.floats(0.8, 0.9), st.floats(0.8, 0.9))
def test_a_thinner_pipe_goes_deeper(one_in, two_in):
    thin, thick = sorted((one_in, two_in))
    assert dry_fit_stop(0.848, 0.836, thin) >= dry_fit_stop(0.848, 0.836, thick)


@pytest.mark.parametrize("args", [(0.836, 0.848, 0.84), (0.848, 0.0, 0.84), (0.848, 0.836, 0.0)])
def test_impossible_sockets_are_refused(args):
    with pytest.raises(OutOfRange, match="is not above"):
        dry_fit_stop(*args)
