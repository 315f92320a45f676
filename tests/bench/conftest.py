"""Benches run once as plain tests; times are only judged when somebody asks for a measurement."""

from __future__ import annotations

import pytest


@pytest.fixture(scope="session")
def measuring(request) -> bool:
    """Whether times count: ``pytest tests/bench --benchmark-enable``, on a quiet machine."""
    return bool(request.config.getoption("benchmark_enable"))
