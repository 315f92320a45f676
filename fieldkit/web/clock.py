"""The one place that asks what time it is; everything deeper is handed the time."""

from __future__ import annotations

import time
from datetime import datetime

from fieldkit.joblog import utc_text

#: How far the clock of this device is ahead of the server's, where that is known. [ms]
_ahead_ms = 0


def set_right(ahead_ms: int) -> None:
    """Take off from now on by how much this device's clock is ahead of the server's. [ms]"""
    global _ahead_ms  # noqa: PLW0603  -- a device has one clock
    _ahead_ms = ahead_ms


def now_ms() -> int:
    """Milliseconds since 1970, UTC."""
    return time.time_ns() // 1_000_000 - _ahead_ms


def now() -> str:
    """This moment as the log keeps it."""
    return utc_text(now_ms())


def zone_name(at: datetime) -> str:
    """The zone of a local time, in short. A browser's Python would write UTC in another way."""
    return (at.tzname() or "") if at.utcoffset() else "UTC"
