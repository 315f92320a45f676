"""Ids of entries, jobs, joints and runs: UUIDs of version 7, made where the thing is made."""

from __future__ import annotations

import secrets
from hashlib import sha256

from fieldkit.joblog import is_id, new_id
from fieldkit.web.clock import now_ms

__all__ = ["following_id", "fresh_id", "is_id"]


def fresh_id() -> str:
    """A new id, in order of time."""
    return new_id(now_ms(), secrets.token_bytes(10))


def following_id(entry_id: str, mark: str, nth: int = 0xFFF) -> str:
    """The id that always follows from ``entry_id`` and ``mark``, at the same time as it.

    ``nth`` puts it in order among those of the same instant; the last place if left out.
    What is sent twice makes the same following id twice, so it is still stored once.

    Examples
    --------
    >>> first = "017f22e2-79b0-7cc3-98c4-dc0c0c07398f"
    >>> following_id(first, "result") == following_id(first, "result")
    True
    >>> following_id(first, "result") == following_id(first, "pick")
    False
    """
    at_ms = int(entry_id.replace("-", "")[:12], 16)
    return new_id(at_ms, sha256(f"{entry_id} {mark}".encode()).digest(), nth)
