"""Gains against information worked out by other means, and the drill rule."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.stats import entropy, norm

from fieldkit.engine.identifying.model import products
from fieldkit.engine.identifying.next_measurement import (
    Rival,
    best_look,
    entropy_bits,
    gain_from_print,
    gain_from_rigid,
    gain_from_size,
    sixty_fourths,
    splitting_drill,
)

BY_ID = {one.pipe.id: one for one in products()}


def rivals(*named):
    return [Rival(BY_ID[name], BY_ID[name].belief, chance) for name, chance in named]


def integrated_gain(named, size, u_in):
    """Mutual information of a normal mixture by numerical integration (scipy)."""
    curves = []
    for name, chance in named:
        mean, var = BY_ID[name].expect(BY_ID[name].belief, size)
        curves.append((chance, mean, math.sqrt(var + u_in**2)))

    def integrand(x):
        parts = [norm.pdf(x, mean, sd) for _, mean, sd in curves]
        whole = sum(chance * part for (chance, _, _), part in zip(curves, parts, strict=True))
        return sum(
            chance * part * math.log2(part / whole)
            for (chance, _, _), part in zip(curves, parts, strict=True)
            if part > 1e-300
        )

    low = min(mean - 6 * sd for _, mean, sd in curves)
    high = max(mean + 6 * sd for _, mean, sd in curves)
    return quad(integrand, low, high, limit=400)[0]


@pytest.mark.parametrize("size", ["bore", "wall"])
@pytest.mark.parametrize(
    "named",
    [
        (("drip-0700x0600", 0.6), ("drip-0710x0620", 0.4)),
        (("pvc-ips-0500-sch40", 0.7), ("pvc-ips-0500-sch80", 0.1), ("pvc-ips-0500-sdr135", 0.2)),
        (("drip-0620x0520", 0.5), ("cpvc-cts-0500-sdr11", 0.3), ("pex-cts-0500-sdr9", 0.2)),
    ],
)
def test_the_gain_of_a_reading_is_its_mutual_information(named, size):
    ours = gain_from_size(rivals(*named), size, 0.004)
    theirs = integrated_gain(named, size, 0.004)
    # Cells can only lose information; a twentieth of a bit is no matter for a choice of look.
    assert theirs - 0.05 <= ours <= theirs + 0.02


def test_twins_gain_nothing_and_the_print_tells_them_apart():
    twins = rivals(("pe-sidr-0500-sidr15", 0.6), ("pe-sidr-0500-sidr19", 0.4))
    assert gain_from_size(twins, "bore", 0.004) == pytest.approx(0, abs=1e-9)
    assert gain_from_rigid(twins) == pytest.approx(0, abs=1e-12)
    assert gain_from_print(twins) > 0.5


def test_rigid_gain_is_that_of_a_noisy_switch():
    # Binary symmetric channel with error e and even odds: 1 − H(e) bits (Shannon).
    pair = rivals(("pvc-ips-0500-sch40", 0.5), ("pe-ips-0500-dr11", 0.5))
    assert gain_from_rigid(pair) == pytest.approx(1 - entropy([0.03, 0.97], base=2))


@given(st.lists(st.floats(0.0, 1.0), min_size=1, max_size=9).filter(lambda p: sum(p) > 0.01))
def test_entropy_is_scipys(weights):
    chances = np.array(weights) / sum(weights)
    assert entropy_bits(list(chances)) == pytest.approx(float(entropy(chances, base=2)), abs=1e-9)


def test_best_look_weighs_gain_against_trouble():
    assert best_look({"bore": 1.0, "wall": 0.9, "print": 0.1}) == "bore"
    assert best_look({"bore": 1.0, "print": 1.2}) == "print"
    assert best_look({"bore": 1.0, "rigid": 0.5}) == "rigid"
    assert best_look({"bore": 0.001}) is None
    assert best_look({}) is None


# Drill shanks in the bore, as a field note lists them: what enters and what does not.
@pytest.mark.parametrize(("small", "large", "drill"), [(0.580, 0.600, "19/32"),
                                                       (0.600, 0.620, "39/64"),
                                                       (0.520, 0.570, "35/64"),
                                                       (0.602, 0.696, "21/32")])  # fmt: skip
def test_a_drill_splits_two_bores(small, large, drill):
    count = splitting_drill(small, large)
    assert sixty_fourths(count) == drill
    assert small < count / 64 < large


@given(st.floats(0.1, 2.0), st.floats(0.0, 0.2))
def test_a_drill_that_splits_lies_between_with_room(small, more):
    count = splitting_drill(small, small + more)
    assert count is None or small + 0.003 <= count / 64 <= small + more - 0.003
