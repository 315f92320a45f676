"""Programs that Debian packages, for tests: found here, or unpacked beside it and not installed.

A package that is installed starts its server at once, which a test must not do to a machine.
"""

from __future__ import annotations

import fcntl
import os
import shutil
import subprocess
import tempfile
from pathlib import Path

import pytest


def program(name: str, package: str = "") -> str:
    """The path of a program of a package; where it cannot be had, the test says so and ends."""
    home = Path(f"/var/tmp/fieldkit-debian-{os.getuid()}")  # noqa: S108  -- of its owner alone
    home.mkdir(mode=0o700, exist_ok=True)
    places = [os.environ["PATH"], "/usr/sbin", *map(str, (home / "usr/bin", home / "usr/sbin"))]
    with Path(home, "lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)  # two test workers must not fetch it at once
        if (found := shutil.which(name, path=":".join(places))) is None:
            why = _unpack(package or name, home)
            found = shutil.which(name, path=":".join(places))
    if found is None:
        print(f"\nNOT TESTED: {name} is not here and could not be fetched.\n{why}")  # noqa: T201
        pytest.skip(f"NOT TESTED: no {name} here (on Debian: apt-get install {package or name})")
    return found


def _unpack(package: str, home: Path) -> str:
    """Fetch a package by Debian's own client and unpack it; says what went wrong."""
    if not (shutil.which("apt-get") and shutil.which("dpkg-deb")):
        return "This is no Debian."
    with tempfile.TemporaryDirectory() as folder:
        fetch = ["apt-get", "download", "-qq", package]
        done = subprocess.run(fetch, cwd=folder, capture_output=True, text=True, check=False)
        if done.returncode and os.geteuid() == 0:
            subprocess.run(["apt-get", "update", "-qq"], check=False)
            done = subprocess.run(fetch, cwd=folder, capture_output=True, text=True, check=False)
        for one in Path(folder).glob("*.deb"):
            subprocess.run(["dpkg-deb", "-x", one, home], check=True)
    return done.stderr
