"""The order of arrival as a hash tree, so that others can witness that the log only grew.

A *head* is how many entries had arrived and one digest over all of them. Phones keep the last one
they saw and records print it. From a later head a short proof leads back to an earlier one; where
none can be made, entries that had arrived were changed, removed or swapped since. A leaf covers an
entry and when it arrived here. It is kept apart from its entry, so that one that is gone is missed.

Source
------
RFC 9162, section 2.1 (hash algorithm SHA-256). Status: checked by tests against published vectors
and against the definitions of the standard, written out beside our code.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from hashlib import sha256
from itertools import zip_longest
from typing import Any

from fieldkit.joblog.entry import COLUMNS, ENTRY_COLUMNS, entry_digest, wary_entry_of

#: Branches over this many leaves, and over larger powers of two, are kept; smaller ones are
#: worked out from the leaves, so that a save writes one leaf and nothing else.
_KEPT = 256
_KEPT_LEVEL = _KEPT.bit_length() - 1


@dataclass(frozen=True, slots=True)
class Head:
    """How many entries had arrived, and the digest over all of them in hexadecimal figures."""

    size: int
    root: str


def leaf(entry_id: str, digest: str, received: str) -> bytes:
    """The leaf of an entry with its digest, and when it arrived."""
    return leaf_hash(f"{entry_id} {digest} {received}\n".encode())


def leaf_hash(data: bytes) -> bytes:
    """The hash of a leaf: it can never be taken for that of a branch."""
    return sha256(b"\0" + data).digest()


def branch_hash(left: bytes, right: bytes) -> bytes:
    """The hash of a branch over two parts of the tree."""
    return sha256(b"\1" + left + right).digest()


def add(conn: sqlite3.Connection, hashed: bytes) -> None:
    """Add the leaf of an entry that arrived; to be called inside a transaction."""
    size = conn.execute("INSERT INTO leaves (hash) VALUES (?)", (hashed,)).lastrowid or 0
    level, n = _KEPT_LEVEL, size // _KEPT
    if size % _KEPT:
        return
    worked = _folded(_leaves(conn, size - _KEPT, size))
    while True:
        conn.execute("INSERT INTO branches VALUES (?, ?, ?)", (level, n - 1, worked))
        if n % 2:
            return
        worked = branch_hash(_branch(conn, level, n - 2), worked)
        level, n = level + 1, n // 2


def head(conn: sqlite3.Connection, size: int | None = None) -> Head | None:
    """The head of the log now, or when it had ``size`` entries; None: it never had so many."""
    now = _size(conn)
    if size is None:
        size = now
    return Head(size, _root(conn, 0, size).hex()) if 0 <= size <= now else None


def proof(conn: sqlite3.Connection, first: int, second: int) -> list[str]:
    """What leads from the head of ``first`` entries to that of ``second``, in hexadecimal.

    Source
    ------
    RFC 9162, section 2.1.4.1. Status: checked by tests.
    """
    if not 0 < first < second:
        return []
    found: list[bytes] = []
    start, end, whole = 0, second, True
    while start + first < end:
        middle = start + _split(end - start)
        if start + first <= middle:
            found.append(_root(conn, middle, end))
            end = middle
        else:
            found.append(_root(conn, start, middle))
            first -= middle - start
            start, whole = middle, False
    if not whole:
        found.append(_root(conn, start, end))
    return [one.hex() for one in reversed(found)]


def _size(conn: sqlite3.Connection) -> int:
    return int(conn.execute("SELECT coalesce(max(n), 0) FROM leaves").fetchone()[0])


def _split(size: int) -> int:
    """The largest power of two below ``size``."""
    return 1 << (size - 1).bit_length() - 1


def _root(conn: sqlite3.Connection, start: int, end: int) -> bytes:
    """The hash over the leaves from ``start`` up to ``end``, a part that stands in the tree."""
    size = end - start
    if size < _KEPT:
        return _folded(_leaves(conn, start, end))
    if size.bit_count() == 1:
        level = size.bit_length() - 1
        return _branch(conn, level, start >> level)
    middle = start + _split(size)
    return branch_hash(_root(conn, start, middle), _root(conn, middle, end))


def _leaves(conn: sqlite3.Connection, start: int, end: int) -> list[bytes]:
    rows = conn.execute("SELECT hash FROM leaves WHERE n > ? AND n <= ? ORDER BY n", (start, end))
    return [row[0] for row in rows]


def _branch(conn: sqlite3.Connection, level: int, n: int) -> bytes:
    row = conn.execute("SELECT hash FROM branches WHERE level = ? AND n = ?", (level, n)).fetchone()
    found: bytes = row[0] if row else b""  # where a hand took it, the head is another one
    return found


def _folded(hashes: Sequence[bytes]) -> bytes:
    """The hash over leaves: pair by pair, an odd one out goes up as it is."""
    while len(hashes) > 1:
        paired = [branch_hash(*hashes[n : n + 2]) for n in range(0, len(hashes) - 1, 2)]
        hashes = [*paired, *hashes[len(paired) * 2 :]]
    return hashes[0] if hashes else sha256().digest()


# ── Against the entries ─────────────────────────────────────────────────────────────────────


@dataclass(frozen=True, slots=True)
class Compared:
    """What arrived, beside what is there now: all of it empty or false where nothing was changed.

    ``gone`` are the places in order of arrival, from 1, of entries that are not there any more as
    they arrived; ``strange`` the ids of entries that never arrived so.
    """

    gone: tuple[int, ...]
    strange: tuple[str, ...]
    swapped: bool
    torn: bool

    @property
    def whole(self) -> bool:
        """Whether all is there as it arrived, and nothing else."""
        return not (self.gone or self.strange or self.swapped or self.torn)


def compare(conn: sqlite3.Connection) -> Compared:
    """Hold what arrived against the entries that are there."""
    leaves = [row[0] for row in conn.execute("SELECT hash FROM leaves ORDER BY n")]
    told = head(conn)
    torn = len(set(leaves)) != _size(conn) or told is None or told.root != _folded(leaves).hex()
    # Mostly all is as it arrived, which takes no room to see.
    pairs = zip_longest(leaves, (hashed for _, hashed in leaves_of_entries(conn)))
    if all(then == now for then, now in pairs):
        return Compared((), (), False, torn)
    rows = conn.execute("SELECT hash, n FROM leaves ORDER BY n")
    arrived: dict[bytes, int] = {row[0]: row[1] for row in rows}
    there = list(leaves_of_entries(conn))
    now = {hashed for _, hashed in there}
    gone = tuple(n for hashed, n in arrived.items() if hashed not in now)
    strange = tuple(entry_id for entry_id, hashed in there if hashed not in arrived)
    order = [arrived[hashed] for _, hashed in there if hashed in arrived]
    return Compared(gone, strange, order != sorted(order), torn)


def leaves_of_entries(conn: sqlite3.Connection) -> Iterator[tuple[str, bytes]]:
    """Each entry's id and leaf, worked out from what is there now, in order of arrival."""
    rows = conn.execute(
        f"SELECT {ENTRY_COLUMNS}, received FROM entries ORDER BY seq"  # noqa: S608  -- our names
    )
    for row in rows:
        yield str(row["id"]), leaf(row["id"], digest_of(row), row["received"])


def digest_of(row: Any) -> str:
    """The digest of an entry as its row has it, also where that cannot be read."""
    with suppress(ValueError, TypeError):  # a hand made it so
        entry, left_out = wary_entry_of(row)
        if not left_out:
            return entry_digest(entry)
    return sha256(repr(tuple(row)[: len(COLUMNS)]).encode()).hexdigest()
