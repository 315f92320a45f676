"""A log of its own for each test."""

from __future__ import annotations

import pytest

from fieldkit.joblog import JobLog


@pytest.fixture
def log(tmp_path):
    with JobLog.open(tmp_path / "log.db") as opened:
        yield opened
