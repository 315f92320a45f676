"""A real server on loopback, a real Chromium, and a page that is watched all the time."""

from __future__ import annotations

import contextlib
import threading

import pytest
from browser.watched import PHONES, Server, Watched
from support.chromium import launch_options
from waitress.server import create_server

from fieldkit.app import make_app


@pytest.fixture(scope="session")
def browser(driver):
    """One Chromium for all browser tests; without one they fail with a sentence."""
    chromium = driver.chromium.launch(**launch_options())
    yield chromium
    chromium.close()


@pytest.fixture
def server(tmp_path):
    """A server of its own for each test: the address it answers at."""
    application = make_app(tmp_path / "log.db")
    running = create_server(application, host="127.0.0.1", port=0, threads=4)

    def serve() -> None:
        # Closing takes the socket away from under a poll that may still be running.
        with contextlib.suppress(OSError):
            running.run()

    thread = threading.Thread(target=serve, daemon=True)
    thread.start()
    yield Server(f"http://127.0.0.1:{running.effective_port}", application)
    running.close()
    thread.join(timeout=5)
    application.extensions["joblog"].close()


@pytest.fixture
def phone(browser, server):
    """A phone as most are."""
    yield from _watched(browser, server, PHONES["390x844"])


@pytest.fixture
def small_phone(browser, server):
    """A small one."""
    yield from _watched(browser, server, PHONES["360x640"])


@pytest.fixture
def no_scripts(browser, server):
    """A phone with scripts switched off."""
    yield from _watched(browser, server, PHONES["390x844"], scripts=False)


def _watched(browser, server, size, *, scripts=True):
    context = browser.new_context(
        viewport={"width": size[0], "height": size[1]},
        java_script_enabled=scripts,
        has_touch=True,
        is_mobile=True,
        service_workers="allow",
    )
    context.set_default_timeout(60_000)
    watched = Watched(context.new_page(), server.address, scripts=scripts)
    yield watched
    watched.check()
    context.close()
