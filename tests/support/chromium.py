"""Find a Chromium for the tests, or install Debian's; a test without one fails, never skips."""

from __future__ import annotations

import os
import shutil
import subprocess

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
    found = next((path for name in NAMES if (path := shutil.which(name))), None)
    if found:
        return found
    if os.geteuid() == 0 and shutil.which("apt-get"):
        subprocess.run(["apt-get", "update", "-qq"], check=True)
        subprocess.run(["apt-get", "install", "-y", "-qq", "chromium"], check=True)
        if found := shutil.which("chromium"):
            return found
    raise RuntimeError(
        "No Chromium was found. Install one (on Debian: apt-get install chromium),"
        " or name it in FIELDKIT_BROWSER."
    )


def launch_options() -> dict[str, object]:
    """What to hand to Playwright's ``chromium.launch``."""
    flags = [*FLAGS, "--no-sandbox"] if os.geteuid() == 0 else FLAGS
    return {"executable_path": find_browser(), "args": flags}
