"""The processes of a browser: a Chromium told by its profile, and what any has started."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path


def browser_process(profile: Path) -> int:
    """The browser's own process."""
    for pid, words in _commands().items():
        if f"--user-data-dir={profile}" in words and not any(
            word.startswith("--type=") for word in words
        ):
            return pid
    raise AssertionError("the browser is not running")


def renderers(browser: int) -> list[int]:
    """The processes of the browser that show pages and run their workers."""
    mine = family(browser)
    # Such a process writes its command as one word.
    return [
        pid
        for pid, words in _commands().items()
        if pid in mine and any("--type=renderer" in word for word in words)
    ]


def family(first: int) -> set[int]:
    """A process and all that come from it."""
    parents = {}
    for entry in Path("/proc").glob("[0-9]*"):
        with suppress(OSError):
            stat = (entry / "stat").read_text()
            parents[int(entry.name)] = int(stat.rpartition(")")[2].split()[1])
    found = {first}
    while more := {pid for pid, parent in parents.items() if parent in found} - found:
        found |= more
    return found


def _commands() -> dict[int, list[str]]:
    found = {}
    for entry in Path("/proc").glob("[0-9]*"):
        with suppress(OSError):
            found[int(entry.name)] = (entry / "cmdline").read_text(errors="replace").split("\0")
    return found
