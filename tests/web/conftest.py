"""An application of its own for each test, and a client that inspects every page it touches."""

from __future__ import annotations

import pytest
from support.hand import Hand

from fieldkit.app import make_app


@pytest.fixture
def app(tmp_path):
    application = make_app(tmp_path / "log.db", testing=True)
    yield application
    application.extensions["joblog"].close()


@pytest.fixture
def hand(app):
    """A person's hand on the pages: reads a page, fills its form, sends it, token and all."""
    return Hand(app.test_client())
