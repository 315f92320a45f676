"""An application for each module, with a job in it that junk can be thrown at."""

from __future__ import annotations

import logging

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


class Faults(logging.Handler):
    """What the application logs of each 500, so that a test can tell why."""

    def __init__(self) -> None:
        super().__init__()
        self.told: list[str] = []

    def emit(self, record) -> None:
        self.told.append(logging.Formatter().format(record))

    def __repr__(self) -> str:
        return "\n".join(self.told[-1:])


@pytest.fixture
def faults(app, monkeypatch):
    """The last fault that the application logged, as it is served: it forgives where it reads."""
    monkeypatch.setattr("fieldkit.flows.flow.raise_faults", False)
    handler = Faults()
    app.logger.addHandler(handler)
    yield handler
    app.logger.removeHandler(handler)


@pytest.fixture(scope="session")
def share(request):
    """How many requests a part of the whole is: ``--fuzz`` of them in all."""
    whole = request.config.getoption("fuzz")
    return lambda part: max(5, round(whole * part))
