"""Find a Chromium for the tests, or install Debian's; a test without one fails, never skips."""

from __future__ import annotations

import fcntl
import os
import shutil
import subprocess
import tempfile
from pathlib import Path

NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome")

#: Quiet, and no traffic of the browser's own.
FLAGS = [
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-quic",
    "--no-first-run",
]


def find_browser() -> str:
    """The path of a Chromium.

    Raises
    ------
    RuntimeError
        There is none and it could not be installed.
    """
    named = os.environ.get("FIELDKIT_BROWSER")
    if named:
        return named
    with Path(tempfile.gettempdir(), "fieldkit-chromium.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)  # two test workers must not install it at once
        if found := _installed():
            return found
        if os.geteuid() == 0 and shutil.which("apt-get"):
            subprocess.run(["apt-get", "update", "-qq"], check=True)
            subprocess.run(["apt-get", "install", "-y", "-qq", "chromium"], check=True)
            if found := _installed():
                return found
    raise RuntimeError(
        "No Chromium was found. Install one (on Debian: apt-get install chromium),"
        " or name it in FIELDKIT_BROWSER."
    )


def _installed() -> str | None:
    return next((path for name in NAMES if (path := shutil.which(name))), None)


def launch_options() -> dict[str, object]:
    """What to hand to Playwright's ``chromium.launch``."""
    flags = [*FLAGS, "--no-sandbox"] if os.geteuid() == 0 else FLAGS
    return {"executable_path": find_browser(), "args": flags}
