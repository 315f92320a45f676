"""What all tests share: one Playwright, since two in one process shut each other out."""

from __future__ import annotations

import pytest
from playwright.sync_api import sync_playwright


@pytest.fixture(scope="session")
def driver():
    """Playwright itself, started once for every test that drives a browser."""
    with sync_playwright() as playwright:
        yield playwright
