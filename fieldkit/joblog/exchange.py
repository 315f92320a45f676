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
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import Text, say
from fieldkit.joblog.append import Appended
from fieldkit.joblog.entry import COLUMNS, JSON_COLUMNS, Entry, json_text
from fieldkit.joblog.log import JobLog

#: What a JSON file says it is. A later form that cannot be read the same way gets a new name.
FORMAT = "fieldkit entries 1"

#: How many entries one transaction takes in.
_LOT = 2000

#: A spreadsheet takes a cell that begins so for a formula, and would run it.
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "'")


def entries_of(log: JobLog, job: str = "") -> Iterator[Entry]:
    """Every entry of the log, or of one job, in order of arrival."""
    seq = 0
    while page := log.since(seq, _LOT, job_id=job):
        seq = page[-1].seq
        yield from (one.entry for one in page)


@dataclass(frozen=True, slots=True)
class Carried:
    """What a file brings: entries as they stand there, and photos by their digest.

    ``company`` says whose log it comes from; empty where the file does not say.
    """

    entries: tuple[object, ...]
    photos: tuple[tuple[str, bytes], ...] = ()
    company: str = ""


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
        writer.writerow(_guarded(body[name]) for name in COLUMNS)
        yield out.getvalue()


def export_json(log: JobLog, job: str = "") -> str:
    """One job, or all of them, as a JSON file."""
    return "".join(json_lines(entries_of(log, job)))


def export_csv(log: JobLog, job: str = "") -> str:
    """One job, or all of them, as a CSV file."""
    return "".join(csv_lines(entries_of(log, job)))


def carried_by(data: str | bytes) -> Carried:
    """What a file of either form brings, to be taken in under rules; CSV names no company.

    Raises
    ------
    Problem
        It is not a file of entries, or a photo in it is cut short.
    """
    text = _text_of(data)
    if not _is_json(text):
        return Carried(tuple(body for _, body in _read_csv(text)))
    body = _json_body(text)
    company = body.get("company", "")
    return Carried(
        tuple(body["entries"]),
        tuple(map(_photo_of, body.get("photos") or ())),
        company if isinstance(company, str) else "",
    )


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
    text = _text_of(data)
    rows = _read_json(text) if _is_json(text) else _read_csv(text)
    return _take_in(log, rows, received)


def _is_json(text: str) -> bool:
    return text.lstrip()[:1] in {"{", "["}


def _take_in(log: JobLog, bodies: Iterable[tuple[str, object]], received: str | None) -> Appended:
    stored: list[str] = []
    already: list[str] = []
    refused: list[tuple[str, Problem]] = []
    lot: list[Entry] = []

    def keep() -> None:
        done = log.append(lot, received or [one.at for one in lot])
        stored.extend(done.stored)
        already.extend(done.already)
        refused.extend(done.refused)
        lot.clear()

    for where, body in bodies:
        try:
            lot.append(Entry.from_json(body))
        except Problem as problem:
            named = body.get("id") if isinstance(body, dict) else None
            refused.append((named[:80] if isinstance(named, str) else where, problem))
        if len(lot) >= _LOT:
            keep()
    keep()
    return Appended(tuple(stored), tuple(already), tuple(refused))


def _text_of(data: str | bytes) -> str:
    if isinstance(data, str):
        return data.removeprefix("\ufeff")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise _unreadable(say("This file is not text in UTF-8.")) from None


def _unreadable(wrong: Text) -> Problem:
    return Problem("file", None, wrong, say("Choose a file that fieldkit exported."))


def _read_json(text: str) -> list[tuple[str, object]]:
    body = _json_body(text)
    return [(f"entry {n}", one) for n, one in enumerate(body["entries"], start=1)]


def _json_body(text: str) -> dict[str, Any]:
    try:
        body = json.loads(text)
    except (ValueError, RecursionError):
        raise _unreadable(say("This file is not JSON, or it was cut short.")) from None
    if not isinstance(body, dict) or body.get("format") != FORMAT:
        raise _unreadable(say("This file does not say that it holds fieldkit entries."))
    if not isinstance(body.get("entries"), list):
        raise _unreadable(say("This file has no list of entries."))
    if not isinstance(body.get("photos", []), list):
        raise _unreadable(say("This file has no list of photos."))
    return body


def _read_csv(text: str) -> list[tuple[str, object]]:
    reader = csv.reader(io.StringIO(text, newline=""))
    try:
        rows = list(reader)
    except csv.Error:
        raise _unreadable(say("This file is not CSV.")) from None
    if not rows or tuple(rows[0]) != COLUMNS:
        raise _unreadable(say("This file does not begin with the columns of the log."))
    return [(f"row {n}", _body(row)) for n, row in enumerate(rows[1:], start=2) if row]


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


def _guarded(cell: str) -> str:
    return f"'{cell}" if cell.startswith(_FORMULA) else cell
