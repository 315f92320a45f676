"""A run of ``effort.py``, so that it goes on working: the shortest, in Spanish and metric."""

from __future__ import annotations

import pytest
from browser.effort import play
from browser.effort_runs import RUNS

pytestmark = pytest.mark.browser

#: Counted on the version that the guide's first column is of; fewer is better.
MOST_SCREENS = 11


def test_a_strip_of_paper_leads_to_the_size_of_the_tubing(browser):
    tally = play(browser, RUNS["H2"])["H2"]
    assert tally.screens <= MOST_SCREENS, "\n".join(tally.trail)
    assert not tally.refused
