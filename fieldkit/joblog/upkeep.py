"""What was last done to keep a log safe, in a small file beside it, for people to look at.

It is no part of the log and of no backup: each copy has its own. One that is missing or torn says
that nothing was done yet.
"""

from __future__ import annotations

import json
import os
from contextlib import suppress
from pathlib import Path
from typing import Literal, TypedDict

#: What is noted: where the server is reached, a backup, a drill of one, a look through the log.
What = Literal["served", "backup", "drill", "verify"]


class Done(TypedDict, total=False):
    """One thing that was done: when, about what, and what was wrong; empty: it went well."""

    at: str
    about: str
    wrong: str


def upkeep_file(log: Path) -> Path:
    """Where it is noted: a file beside the log."""
    return log.with_suffix(".upkeep")


def done(log: Path) -> dict[str, Done]:
    """What was last done of each kind, as far as it was noted."""
    try:
        said = json.loads(upkeep_file(log).read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError):
        return {}
    if not isinstance(said, dict):
        return {}
    return {what: _read(one) for what, one in said.items() if isinstance(one, dict)}


def _read(one: dict[str, object]) -> Done:
    at, about, wrong = (str(one.get(key, ""))[:1000] for key in ("at", "about", "wrong"))
    return {"at": at, "about": about, "wrong": wrong}


def note(log: Path, what: What, at: str, about: str = "", wrong: str = "") -> None:
    """Note that something was done at a time; its file is always whole.

    Where it cannot be written, what was done is done all the same.
    """
    said = {**done(log), what: Done(at=at, about=about, wrong=wrong)}
    path = upkeep_file(log)
    part = path.with_name(f"{path.name}.{os.getpid()}")
    with suppress(OSError):
        part.touch(mode=0o600)
        part.write_text(json.dumps(said, indent=1), encoding="utf-8")
        part.replace(path)
