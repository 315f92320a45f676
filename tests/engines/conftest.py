"""The engines beside Chromium: they run where ``--engines firefox,webkit`` asks for them."""

from __future__ import annotations

import pytest
from engines.browsers import NotHereError, install

collect_ignore = ["webkit_window.py"]  # it runs in another Python

#: Engines that could not be had, and why.
LACKING: dict[str, str] = {}


def asked_for(config) -> list[str]:
    """The engines that were asked for."""
    return [one for one in config.getoption("engines").split(",") if one]


def pytest_ignore_collect(config):
    """Nothing is to be installed by those who did not ask."""
    return None if asked_for(config) else True


def pytest_generate_tests(metafunc):
    """Each test in each engine."""
    if "engine" in metafunc.fixturenames:
        metafunc.parametrize("engine", asked_for(metafunc.config), scope="module", indirect=True)


@pytest.fixture(scope="module")
def engine(request) -> str:
    """An engine by its name; what it needs is installed."""
    try:
        install(request.param)
    except NotHereError as why:
        LACKING[request.param] = str(why)
    if request.param in LACKING:
        pytest.skip(f"no {request.param}: {LACKING[request.param]}")
    return request.param


def pytest_terminal_summary(terminalreporter):
    """What did not run must not go unseen."""
    for name, why in LACKING.items():
        terminalreporter.section(f"THE TESTS IN {name.upper()} DID NOT RUN", red=True, bold=True)
        terminalreporter.line(why)
        for report in terminalreporter.stats.get("skipped", ()):
            if f"[{name}" in report.nodeid:
                terminalreporter.line(f"did not run: {report.nodeid}", red=True)
