"""Entries as a file: JSON or CSV out, either one in again, nothing lost and nothing doubled.

Both forms hold every field of every entry, so a file brought into an empty log makes the same
log, and one brought in twice changes nothing. A JSON file can carry the photos too, and says whose
log it comes from.
"""

from __future__ import annotations

import binascii
import csv
import io
import json
from base64 import b64decode, b64encode
from collections.abc import Generator, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from io import BytesIO
from typing import IO, Any

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import Text, say
from fieldkit.joblog.append import Appended
from fieldkit.joblog.entry import COLUMNS, JSON_COLUMNS, Entry, json_text
from fieldkit.joblog.log import JobLog
from fieldkit.joblog.piecewise import LONGEST, members

#: What a JSON file says it is. A later form that cannot be read the same way gets a new name.
FORMAT = "fieldkit entries 1"

#: How many entries are read from the log at once.
_LOT = 2000

#: The module's own limit would refuse the largest signature.
csv.field_size_limit(LONGEST)

#: A spreadsheet takes a cell that begins so for a formula, and would run it.
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "'")


def entries_of(log: JobLog, job: str = "") -> Iterator[Entry]:
    """Every entry of the log, or of one job, in order of arrival."""
    seq = 0
    while page := log.since(seq, _LOT, job_id=job or None):
        seq = page[-1].seq
        yield from (one.entry for one in page)


def json_lines(
    entries: Iterable[Entry], company: str = "", photos: Iterable[tuple[str, bytes]] = ()
) -> Iterator[str]:
    """A JSON file piece by piece, one entry a line, then one photo a line."""
    from_whom = f' "company": {json.dumps(company)},' if company else ""
    yield f'{{"format": {json.dumps(FORMAT)},{from_whom} "entries": ['
    before = "\n"
    for one in entries:
        yield before + json_text(one.as_json())
        before = ",\n"
    before = '\n], "photos": [\n'
    for digest, data in photos:
        yield f'{before}{{"digest": "{digest}", "jpeg": "{b64encode(data).decode()}"}}'
        before = ",\n"
    yield "\n]}\n"


def photos_named(entries: Iterable[Entry]) -> list[str]:
    """The digests of the photos that entries name, each once, in order."""
    named = (
        one.understood.get("digest")
        for one in entries
        if one.kind == "photo" and isinstance(one.understood, dict)
    )
    return list(dict.fromkeys(one for one in named if isinstance(one, str)))


def csv_lines(entries: Iterable[Entry]) -> Iterator[str]:
    """A CSV file row by row: the columns of the table, JSON where a shape varies.

    A cell that a spreadsheet would take for a formula gets a ``'`` in front, which reading the
    file takes off again.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    yield out.getvalue()
    for one in entries:
        out.seek(0)
        out.truncate()
        body = one.as_json()
        for name in JSON_COLUMNS:
            body[name] = json_text(body[name])
        writer.writerow(guarded(body[name]) for name in COLUMNS)
        yield out.getvalue()


def export_json(log: JobLog, job: str = "") -> str:
    """One job, or all of them, as a JSON file."""
    return "".join(json_lines(entries_of(log, job)))


def export_csv(log: JobLog, job: str = "") -> str:
    """One job, or all of them, as a CSV file."""
    return "".join(csv_lines(entries_of(log, job)))


@dataclass(frozen=True, slots=True)
class Carried:
    """What a file brings: how many entries and photos, and whose log it says it comes from.

    It was read through once and is whole; entries and photos are read anew whenever they are asked
    for, so a file of any size takes little memory. ``company`` is empty where the file names none.
    """

    file: IO[bytes]
    is_json: bool
    count: int
    photo_count: int
    company: str

    def entries(self) -> Generator[tuple[str, object], None, None]:
        """Each entry as it stands there, under its id or its place in the file."""
        with _read(self.file) as text:
            if self.is_json:
                for name, n, body in members(text.read):
                    if name == "entries" and n > 0:
                        yield _named(body, f"entry {n}"), body
            else:
                yield from ((_named(body, f"row {n}"), body) for n, body in _rows(text))

    def photos(self) -> Iterator[tuple[str, bytes]]:
        """Each photo, by its digest."""
        if self.photo_count:
            with _read(self.file) as text:
                for name, n, body in members(text.read):
                    if name == "photos" and n > 0:
                        yield _photo_of(body)


def carried_by(data: str | bytes | IO[bytes]) -> Carried:
    """What a file of either form brings, to be taken in under rules; CSV names no company.

    Raises
    ------
    Problem
        It is not a file of entries, or a photo in it is cut short.
    """
    if isinstance(data, str):
        data = data.encode("utf-8", "surrogatepass")
    file = BytesIO(data) if isinstance(data, bytes) else data
    try:
        with _read(file) as text:
            first = text.read(4096).lstrip()[:1]
        if first == "[":
            raise _unreadable(say("This file does not say that it holds fieldkit entries."))
        with _read(file) as text:
            if first == "{":
                return _looked_through(file, text)
            return Carried(file, False, sum(1 for _ in _rows(text)), 0, "")
    except Problem:
        raise
    except UnicodeDecodeError:
        raise _unreadable(say("This file is not text in UTF-8.")) from None
    except csv.Error:
        raise _unreadable(say("This file is not CSV.")) from None
    except (ValueError, RecursionError):
        raise _unreadable(say("This file is not JSON, or it was cut short.")) from None


@contextmanager
def _read(file: IO[bytes]) -> Iterator[io.TextIOWrapper]:
    """The text of a file from its beginning; the file stays open."""
    file.seek(0)
    text = io.TextIOWrapper(file, encoding="utf-8-sig", newline="")
    try:
        yield text
    finally:
        text.detach()


def _looked_through(file: IO[bytes], text: io.TextIOWrapper) -> Carried:
    found: dict[str, Any] = {}
    for name, n, value in members(text.read):
        if name == "photos" and n > 0:
            _photo_of(value)
        if name in {"format", "company", "entries", "photos"}:
            found[name] = range(n) if n >= 0 else value
    if found.get("format") != FORMAT:
        raise _unreadable(say("This file does not say that it holds fieldkit entries."))
    entries, photos = found.get("entries"), found.get("photos", range(0))
    if not isinstance(entries, range):
        raise _unreadable(say("This file has no list of entries."))
    if not isinstance(photos, range):
        raise _unreadable(say("This file has no list of photos."))
    company = found.get("company", "")
    return Carried(
        file, True, len(entries), len(photos), company if isinstance(company, str) else ""
    )


def _named(body: object, place: str) -> str:
    given = body.get("id") if isinstance(body, dict) else None
    return given[:80] if isinstance(given, str) else place


def _photo_of(body: object) -> tuple[str, bytes]:
    try:
        if isinstance(body, dict):
            return str(body["digest"])[:80], b64decode(body["jpeg"], validate=True)
    except (KeyError, TypeError, ValueError, binascii.Error):
        pass
    raise _unreadable(say("A photo in this file is cut short."))


def import_file(log: JobLog, data: str | bytes, received: str | None) -> Appended:
    """Take in a file of ours of either form as it stands, under no rules.

    With ``received`` None each entry counts as arrived when it was made.

    Raises
    ------
    Problem
        It is not a file of entries. An entry that cannot be kept is in ``refused`` instead.
    """
    good: list[Entry] = []
    refused: list[tuple[str, Problem]] = []
    for where, body in carried_by(data).entries():
        try:
            good.append(Entry.from_json(body))
        except Problem as problem:
            refused.append((where, problem))
    done = log.append(good, received or [one.at for one in good])
    return Appended(done.stored, done.already, (*refused, *done.refused))


def _unreadable(wrong: Text) -> Problem:
    return Problem("file", None, wrong, say("Choose a file that fieldkit exported."))


def _rows(text: io.TextIOWrapper) -> Iterator[tuple[int, object]]:
    """Each row of a CSV file under its number, as ``Entry.from_json`` takes it."""
    rows = csv.reader(iter(lambda: _line(text), ""))
    if tuple(next(rows, ())) != COLUMNS:
        raise _unreadable(say("This file does not begin with the columns of the log."))
    for n, row in enumerate(rows, start=2):
        if row:
            yield n, _body(row)


def _line(text: io.TextIOWrapper) -> str:
    line = text.readline(LONGEST)
    if len(line) == LONGEST:
        raise csv.Error("a line without an end")
    return line


def _body(row: list[str]) -> Any:
    """A CSV row as ``Entry.from_json`` takes it, or None where it cannot be one."""
    if len(row) != len(COLUMNS):
        return None
    body: dict[str, Any] = {
        name: cell.removeprefix("'") for name, cell in zip(COLUMNS, row, strict=True)
    }
    for name in JSON_COLUMNS:
        try:
            body[name] = json.loads(body[name])
        except (ValueError, RecursionError):
            return None
    return body


def guarded(cell: str) -> str:
    return f"'{cell}" if cell.startswith(_FORMULA) else cell
