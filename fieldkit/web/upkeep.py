"""What a lead sees of how a server is kept: the last backup, drill, look through, and the disk.

Only a server has this; a phone is never asked.
"""

from __future__ import annotations

import shutil
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Literal

from fieldkit.joblog.upkeep import Done, What, done

#: After so long it is time to look why it was not done again. [days]
LATE_DAYS: dict[What, int] = {"backup": 2, "verify": 8, "drill": 40}

#: With less than this share of the disk left, or less than so much, it is time to act.
_LITTLE_SHARE, _LITTLE_BYTES = 0.05, 2_000_000_000

State = Literal["done", "late", "failed", "never"]


@dataclass(frozen=True, slots=True)
class Chore:
    """One thing that is done again and again: when last ("" for never), and how that stands."""

    what: What
    at: str
    state: State


@dataclass(frozen=True, slots=True)
class Upkeep:
    """How a server is kept, and its disk. [GB]"""

    lines: tuple[Chore, ...]
    free_gb: float
    all_gb: float
    little: bool

    @property
    def well(self) -> bool:
        """Whether nothing is to be done."""
        return not self.little and all(one.state == "done" for one in self.lines)


def upkeep_of(log: Path, now: str) -> Upkeep:
    """How the server of a log is kept, at a moment (UTC, as ``Entry.at``)."""
    noted = done(log)
    disk = shutil.disk_usage(log.parent)
    little = disk.free < max(_LITTLE_BYTES, disk.total * _LITTLE_SHARE)
    return Upkeep(
        tuple(_line(what, noted.get(what, {}), now) for what in LATE_DAYS),
        round(disk.free / 1e9, 1),
        round(disk.total / 1e9, 1),
        little,
    )


def _line(what: What, one: Done, now: str) -> Chore:
    at = one.get("at", "")
    try:
        days = (datetime.fromisoformat(now) - datetime.fromisoformat(at)).total_seconds() / 86_400
    except (ValueError, TypeError):
        return Chore(what, "", "never")
    if one.get("wrong"):
        return Chore(what, at, "failed")
    return Chore(what, at, "late" if days > LATE_DAYS[what] else "done")
