"""What all tests share: one Playwright, and properties that no busy machine can fail."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, settings
from playwright.sync_api import sync_playwright

# Times are judged in tests/bench alone: elsewhere a slow moment of the machine is no fault.
settings.register_profile("calm", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("calm")


def pytest_addoption(parser):
    """``--fuzz 20000`` for all of it; the default is what a daily run can afford."""
    parser.addoption("--fuzz", type=int, default=1000, help="requests of junk in all")


@pytest.fixture(scope="session")
def driver():
    """Playwright itself, once for all tests: two in one process shut each other out."""
    with sync_playwright() as playwright:
        yield playwright
