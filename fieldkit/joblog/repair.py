"""A whole log from a torn file, as far as its pages go, and what is gone.

SQLite gives up at the first page that is not whole, so the pages are read here one by one, by its
published file format (sqlite.org/fileformat2.html): each leaf of a table holds its rows by itself.
As entries never change, any copy of one that can be read is the right one.
"""

from __future__ import annotations

import mmap
import re
import shutil
import sqlite3
import struct
import tempfile
from collections.abc import Iterator
from contextlib import ExitStack, closing, suppress
from dataclasses import dataclass
from pathlib import Path

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import say
from fieldkit.joblog import append as adding
from fieldkit.joblog import schema
from fieldkit.joblog.backup import Place, require_sound
from fieldkit.joblog.entry import COLUMNS, Entry, entry_of, row_of
from fieldkit.joblog.integrity import broken_among, seals
from fieldkit.joblog.log import JobLog

Value = int | float | str | bytes | None

#: What a page of ours is large, where the file's own head does not say. [bytes]
_PAGE = 2048
_LEAF_OF_TABLE = 13
#: No row of a log is larger: the two lists of a signature, and eight fields. [bytes]
_LARGEST_ROW = 32 << 20
_COMPANY = re.compile("[0-9a-f]{32}")


@dataclass(frozen=True, slots=True)
class Repaired:
    """What became of a torn log.

    ``gone`` are the places of entries that could not be read, from and to, each with when the
    entries beside it arrived; what came after the last that was read is not known. ``aside`` is
    where the torn file now stands.
    """

    entries: int
    gone: tuple[tuple[int, int, str, str], ...]
    company: bool
    seals: int
    broken: tuple[str, ...]
    aside: Path


def repair(place: Place, stamp: str) -> Repaired:
    """Make a whole log from the one at ``place``, and move the torn one aside.

    The server's secret goes aside with it: with a new one phones see that this is another copy,
    and send all that they have once more, which may bring back what is gone.

    Raises
    ------
    Problem
        The log is whole, somebody has it open, a newer version wrote it, or nothing in it can be
        read.
    """
    _require_unused(place.log)
    with tempfile.TemporaryDirectory(dir=place.log.parent, prefix=".repair-") as folder:
        if _is_whole(place.log, Path(folder, "look.db")):
            raise Problem(
                "db",
                str(place.log),
                say("The log {path} is whole. It was left as it is.", path=place.log),
                say("Look at its seals with {command}.", command="fieldkit verify"),
            )
        made = Path(folder, "whole.db")
        with _Torn(place.log) as torn, JobLog.open(made) as log:
            entries, gone = _fill(log, torn)
            if not entries:
                raise Problem(
                    "db",
                    str(place.log),
                    say("No entry can be read in {path}.", path=place.log),
                    say("Put a backup back with {command}.", command="fieldkit restore FILE"),
                )
            if torn.company:
                with log.writing() as conn:
                    conn.execute("UPDATE company SET id = ?", (torn.company,))
            found = list(seals(log))
            company = bool(torn.company)
        broken = tuple(broken_among(found))
        aside = Path(tempfile.mkdtemp(dir=place.log.parent, prefix=f"{place.log.stem}-{stamp}-"))
        for one in (*schema.with_journals(place.log), place.secret):
            if one.exists():
                one.rename(aside / one.name)
        made.rename(place.log)
    return Repaired(entries, gone, company, len(found), broken, aside)


def _require_unused(path: Path) -> None:
    """See that no program has the log open, without opening it as a database.

    Raises
    ------
    Problem
        One has.
    """
    try:
        import fcntl  # noqa: PLC0415  -- not everywhere
    except ImportError:
        return
    with path.open("rb+") as file:
        try:
            # Where SQLite holds its lock while a file is in use.
            fcntl.lockf(file, fcntl.LOCK_EX | fcntl.LOCK_NB, 510, 0x40000002)
        except OSError as error:
            raise Problem(
                "db",
                str(path),
                say("The log {path} is in use.", path=path),
                say("Stop the server that shows it first (Ctrl-C where it runs), then try again."),
            ) from error


def _is_whole(path: Path, look: Path) -> bool:
    """Whether SQLite finds nothing wrong with a copy of the log.

    Raises
    ------
    Problem
        A newer version wrote it.
    """
    for source, target in zip(
        schema.with_journals(path)[:2], schema.with_journals(look)[:2], strict=True
    ):
        if source.exists():
            shutil.copyfile(source, target)
    try:
        with closing(sqlite3.connect(look)) as conn:
            conn.row_factory = sqlite3.Row
            with suppress(sqlite3.DatabaseError):
                schema.require_known(conn, path)
            require_sound(conn)
            conn.execute("SELECT count(*) FROM entries").fetchone()
    except sqlite3.DatabaseError:
        return False
    finally:
        for one in schema.with_journals(look):
            one.unlink(missing_ok=True)
    return True


def _fill(log: JobLog, torn: _Torn) -> tuple[int, tuple[tuple[int, int, str, str], ...]]:
    """Put every entry that can be read into a new log, in their order of arrival."""
    kept, gone = 0, []
    last, last_received = 0, ""
    with log.writing() as conn:
        for seq in sorted(torn.places):
            read = torn.entry(seq)
            if read is None:
                continue
            entry, received = read
            good, _ = adding.read_all([entry], [received])
            stored, already, _ = adding.add(conn, good)
            if not stored and not already:
                continue
            if seq > last + 1:
                gone.append((last + 1, seq - 1, last_received, received))
            kept += len(stored)
            last, last_received = seq, received
        beyond = max(torn.places, default=0)
        if beyond > last:
            gone.append((last + 1, beyond, last_received, ""))
    return kept, tuple(gone)


class _Torn:
    """The pages of a file and of its journal, and where in them entries seem to be."""

    def __init__(self, path: Path) -> None:
        self._stack = ExitStack()
        maps = [self._map(one) for one in schema.with_journals(path)[:2]]
        self._main, self._wal = maps
        head = self._main[:100]
        size = int.from_bytes(head[16:18], "big") if head.startswith(b"SQLite format 3\0") else 0
        if size == 0 and len(self._wal) >= 32:
            size = int.from_bytes(self._wal[8:12], "big")
        self._size = 65536 if size == 1 else size if 512 <= size <= 65536 else _PAGE
        self._newest: dict[int, int] = {}  # page → where its newest copy begins in the journal
        #: Place in the order of arrival → where its row may be: (journal?, page's offset, cell's).
        self.places: dict[int, list[tuple[bool, int, int]]] = {}
        self.company = ""
        self._find()

    def _map(self, path: Path) -> bytes | mmap.mmap:
        if not path.exists() or path.stat().st_size == 0:
            return b""
        file = self._stack.enter_context(path.open("rb"))
        return self._stack.enter_context(mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ))

    def __enter__(self) -> _Torn:
        return self

    def __exit__(self, *exc: object) -> None:
        self._stack.close()

    def entry(self, seq: int) -> tuple[Entry, str] | None:
        """The entry at a place and when it arrived, if one copy of it can be read."""
        for where in self.places[seq]:
            try:
                values = self._record(*where)
                entry = entry_of(tuple(values[1 : 1 + len(COLUMNS)]))  # type: ignore[arg-type]
                row_of(entry)  # it is whole
            except (Problem, ValueError, TypeError, IndexError, struct.error, RecursionError):
                continue
            received = values[1 + len(COLUMNS)]
            if isinstance(received, str):
                return entry, received
        return None

    # ── Pages ───────────────────────────────────────────────────────────────────────────────

    def _find(self) -> None:
        for page, offset in self._frames():
            self._newest[page] = offset
        for page, offset in self._frames():
            self._look_at(page, offset, journal=True)
        for offset in range(0, len(self._main), self._size):
            self._look_at(offset // self._size + 1, offset, journal=False)

    def _frames(self) -> Iterator[tuple[int, int]]:
        """The pages in the journal: (number, offset); what is left of an older one is not."""
        salts = self._wal[16:24]
        step = 24 + self._size
        for offset in range(32, len(self._wal) - step + 1, step):
            if self._wal[offset + 8 : offset + 16] != salts:
                return
            yield int.from_bytes(self._wal[offset : offset + 4], "big"), offset + 24

    def _look_at(self, page: int, offset: int, *, journal: bool) -> None:
        data = self._wal if journal else self._main
        head = offset + (100 if page == 1 else 0)
        if len(data) < head + 8 or data[head] != _LEAF_OF_TABLE:
            return
        count = int.from_bytes(data[head + 3 : head + 5], "big")
        for n in range(min(count, self._size // 4)):
            at = head + 8 + 2 * n
            cell = int.from_bytes(data[at : at + 2], "big")
            try:
                seq = self._entry_at(journal, offset, cell)
            except (ValueError, IndexError, struct.error):
                continue
            if seq is not None:
                self.places.setdefault(seq, []).append((journal, offset, cell))

    def _entry_at(self, journal: bool, offset: int, cell: int) -> int | None:
        """The place of the entry in a cell; None where there is something else."""
        data = self._wal if journal else self._main
        size, at = _varint(data, offset + cell)
        seq, at = _varint(data, at)
        head, first = _varint(data, at)
        kinds = []
        while first < at + head:
            kind, first = _varint(data, first)
            kinds.append(kind)
        if len(kinds) == 1 and kinds[0] == 13 + 2 * 32:
            found = bytes(data[first : first + 32]).decode("ascii", "replace")
            if not self.company and _COMPANY.fullmatch(found):
                self.company = found
        # Of all tables only this one has rows of so many columns that begin with an id's length.
        wide = len(kinds) >= 2 + len(COLUMNS) and kinds[0] == 0 and kinds[1] == 13 + 2 * 36
        return seq if wide and size <= _LARGEST_ROW else None

    def _record(self, journal: bool, offset: int, cell: int) -> list[Value]:
        data = self._wal if journal else self._main
        size, at = _varint(data, offset + cell)
        _, at = _varint(data, at)
        body = self._payload(data, at, size)
        head, at = _varint(body, 0)
        kinds = []
        while at < head:
            kind, at = _varint(body, at)
            kinds.append(kind)
        values = []
        for kind in kinds:
            value, at = _value(body, at, kind)
            values.append(value)
        return values

    def _payload(self, data: bytes | mmap.mmap, at: int, size: int) -> bytes:
        """The whole of a row, also where it goes on on other pages (fileformat2, section 1.6)."""
        room = self._size
        local = size
        if size > room - 35:
            least = (room - 12) * 32 // 255 - 23
            fits = least + (size - least) % (room - 4)
            local = fits if fits <= room - 35 else least
        parts = [bytes(data[at : at + local])]
        left = size - local
        follows = int.from_bytes(data[at + local : at + local + 4], "big") if left else 0
        while left > 0:
            if follows == 0:
                raise ValueError("a row ends too soon")
            source, start = self._page(follows)
            part = bytes(source[start + 4 : start + min(room, left + 4)])
            if not part:
                raise ValueError("a page is missing")
            parts.append(part)
            left -= len(part)
            follows = int.from_bytes(source[start : start + 4], "big")
        return b"".join(parts)

    def _page(self, page: int) -> tuple[bytes | mmap.mmap, int]:
        if page in self._newest:
            return self._wal, self._newest[page]
        return self._main, (page - 1) * self._size


def _varint(data: bytes | mmap.mmap, at: int) -> tuple[int, int]:
    """A number of one to nine bytes, and where it ends (fileformat2, section 1.6)."""
    value = 0
    for n in range(8):
        byte = data[at + n]
        value = value << 7 | byte & 0x7F
        if byte < 0x80:
            return value, at + n + 1
    return value << 8 | data[at + 8], at + 9


def _value(body: bytes, at: int, kind: int) -> tuple[Value, int]:
    """One value of a row by its serial type, and where it ends (fileformat2, section 2.1)."""
    if kind == 0:
        return None, at
    if kind in (8, 9):
        return kind - 8, at
    if kind == 7:
        return struct.unpack(">d", body[at : at + 8])[0], at + 8
    if kind < 7:
        size = (0, 1, 2, 3, 4, 6, 8)[kind]
        return int.from_bytes(body[at : at + size], "big", signed=True), at + size
    size = (kind - 12) // 2
    raw = body[at : at + size]
    if len(raw) != size:
        raise ValueError("a row ends too soon")
    return (raw.decode("utf-8") if kind % 2 else raw), at + size
