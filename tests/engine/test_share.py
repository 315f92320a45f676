"""Wilson's interval, against a published table and against SciPy."""

from __future__ import annotations

import pytest
from scipy.stats import binomtest

from fieldkit.engine.problems import OutOfRange
from fieldkit.engine.share import share_of

#: Newcombe, "Two-sided confidence intervals for the single proportion", Statistics in Medicine 17
#: (1998), table I, method 3 (score, no continuity correction); from memory, printed to 4 places.
NEWCOMBE = [
    (81, 263, 0.2553, 0.3662),
    (15, 148, 0.0624, 0.1605),
    (0, 20, 0.0000, 0.1611),
    (1, 29, 0.0061, 0.1718),
]


@pytest.mark.parametrize(("found", "of", "low", "high"), NEWCOMBE)
def test_the_interval_is_the_published_one(found, of, low, high):
    share = share_of(found, of)
    assert (share.low, share.high) == pytest.approx((low, high), abs=0.00005)


@pytest.mark.parametrize("of", [1, 2, 7, 41, 100, 20_000])
def test_the_interval_is_scipys(of):
    """``scipy.stats.binomtest(…).proportion_ci(method="wilson")``."""
    for found in {0, 1, of // 7, of // 2, of - 1, of}:
        theirs = binomtest(found, of).proportion_ci(0.95, "wilson")
        ours = share_of(found, of)
        assert (ours.low, ours.high) == pytest.approx((theirs.low, theirs.high), abs=1e-12)


def test_few_are_called_few():
    assert share_of(0, 15).too_few
    assert not share_of(0, 16).too_few
    assert share_of(7, 41).too_few
    assert not share_of(7, 100).too_few


@pytest.mark.parametrize(("found", "of"), [(1, 0), (-1, 4), (5, 4)])
def test_what_is_no_share_is_refused(found, of):
    with pytest.raises(OutOfRange):
        share_of(found, of)
