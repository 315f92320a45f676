"""An application of its own for each module, with a job in it that junk can be thrown at."""

from __future__ import annotations

import pytest
from support.entries import NOW, a_job

from fieldkit.app import make_app


@pytest.fixture(scope="module")
def app(tmp_path_factory):
    """As it is served: what goes wrong is answered with 500, never raised at the test."""
    application = make_app(tmp_path_factory.mktemp("fuzz") / "log.db")
    application.extensions["joblog"].append(a_job(), NOW)
    yield application
    application.extensions["joblog"].close()
