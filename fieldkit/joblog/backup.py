"""A whole copy in one file: the log, who may enter, and the photos; made while others save.

The file is a zip archive with a list of digests in it. Left out on purpose is what opens a door:
the server's secret, open sessions, invitations. Who finds a copy can sign nothing with it; where
it is put back, a new secret is made, everyone logs in again, and phones, which know the log by it,
send all that they have once more.
"""

from __future__ import annotations

import json
import os
import re
import sqlite3
import tempfile
import zipfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, nullcontext
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import IO

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import say
from fieldkit.joblog.encrypted import encrypting
from fieldkit.joblog.log import JobLog

#: What a copy says it is. A later form that cannot be read the same way gets a new name.
FORMAT = "fieldkit copy 1"

#: The members of a copy; photos follow as ``photos/DIGEST.jpg``.
ABOUT, LOG, PEOPLE, PHOTOS = "about.json", "log.db", "people.db", "photos/"

#: The file of a photo: the digest of its bytes.
PHOTO_FILE = re.compile(r"([0-9a-f]{64})\.jpg")

_LOT = 1 << 20

#: How far it is: so much of so much.
Tell = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class Place:
    """Where one copy of fieldkit keeps its things."""

    log: Path
    people: Path
    photos: Path
    secret: Path


@dataclass(frozen=True, slots=True)
class Copied:
    """What a copy holds. ``damaged`` photos no longer match their digest and were left out;
    ``elsewhere`` counts photos that the log knows and this place has not.
    """

    entries: int
    people: int
    photos: int
    damaged: tuple[str, ...]
    elsewhere: int


def backup(
    log: JobLog,
    place: Place,
    target: Path,
    made_at: str,
    tell: Tell = lambda *_: None,
    *,
    encrypt_to: Sequence[str] = (),
) -> Copied:
    """Copy everything to ``target``; ``tell`` is told how far it is, so many bytes of so many.

    Given ``encrypt_to``, only those can open it.

    The log is taken first, whole as it is at one moment; each photo that it knows was on the
    disk before its entry was. The copy is made beside its place and checked before it takes its
    name, so a file of that name is always a whole copy.

    Raises
    ------
    Problem
        ``target`` is there already, cannot be written, or the copy did not pass its check.
    """
    if target.exists():
        raise Problem(
            "file",
            target.name,
            say("There is a file of that name already."),
            say("Give a name that is not taken. A backup is never written over."),
        )
    part = target.with_name(target.name + ".part")
    try:
        part.unlink(missing_ok=True)
        # It holds names and hashes of passwords: only its owner reads it.
        handle = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(handle, "wb") as out:
            with encrypting(out, encrypt_to) if encrypt_to else nullcontext(out) as into:
                copied = _write(log, place, into, made_at, tell)
            out.flush()
            os.fsync(out.fileno())
        part.rename(target)
    except Problem:
        part.unlink(missing_ok=True)
        raise
    except (OSError, sqlite3.Error) as error:
        part.unlink(missing_ok=True)
        raise Problem(
            "file",
            target.name,
            say("The copy could not be made: {why}.", why=str(error)),
            say("Give a file in a folder that exists, on a disk with room."),
        ) from error
    return copied


def copy_log(log: JobLog, target: Path) -> int:
    """The log as one plain file that any SQLite program opens; says how many entries it holds."""
    with closing(sqlite3.connect(target)) as copy:
        with log.reading() as conn:
            conn.backup(copy)
        copy.execute("PRAGMA journal_mode=DELETE")
        require_sound(copy)
        return int(copy.execute("SELECT count(*) FROM entries").fetchone()[0])


def require_sound(conn: sqlite3.Connection) -> None:
    """Refuse a database that is damaged inside."""
    found = conn.execute("PRAGMA integrity_check(1)").fetchone()[0]
    if found != "ok":
        raise sqlite3.DatabaseError(found)


def _write(log: JobLog, place: Place, out: IO[bytes], made_at: str, tell: Tell) -> Copied:
    digests: dict[str, str] = {}
    with (
        # Beside the log, where only its owner reads; the target may be another's disk.
        tempfile.TemporaryDirectory(dir=place.log.parent, prefix=".backup-") as folder,
        zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive,
    ):
        log_copy, people_copy = Path(folder, LOG), Path(folder, PEOPLE)
        entries = copy_log(log, log_copy)
        people = _copy_people(place.people, people_copy)
        members = [(LOG, log_copy)] + [(PEOPLE, people_copy)] * people_copy.exists()
        members += [(f"{PHOTOS}{name}.jpg", path) for name, path in photo_files(place.photos)]
        whole = sum(path.stat().st_size for _, path in members)
        damaged, here, done = [], set(), 0
        for name, path in members:
            digest = digest_of(path)
            photo = PHOTO_FILE.fullmatch(name.removeprefix(PHOTOS))
            if photo and photo[1] != digest:
                damaged.append(photo[1])
                continue
            digests[name] = digest
            member = zipfile.ZipInfo(name)
            member.file_size = path.stat().st_size
            if not photo:  # that is packed already
                member.compress_type = zipfile.ZIP_DEFLATED
            with path.open("rb") as file, archive.open(member, "w") as into:
                while lot := file.read(_LOT):
                    into.write(lot)
                    tell(done := done + len(lot), whole)
            if photo:
                here.add(digest)
        about = {"format": FORMAT, "made_at": made_at, "entries": entries, "sha256": digests}
        archive.writestr(ABOUT, json.dumps(about, indent=1))
        with closing(sqlite3.connect(log_copy)) as conn:
            elsewhere = photos_known(conn) - here - set(damaged)
    return Copied(entries, people, len(here), tuple(damaged), len(elsewhere))


def _copy_people(path: Path, target: Path) -> int:
    """Who may enter, without what opens a door; says how many. No file of them, no copy."""
    if not path.is_file():
        return 0
    with (
        closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)) as source,
        closing(sqlite3.connect(target)) as copy,
    ):
        source.backup(copy)
        copy.execute("PRAGMA journal_mode=DELETE")
        for table in ("sessions", "invites", "tries"):
            copy.execute(f"DELETE FROM {table}")  # noqa: S608  -- our own names
        copy.commit()
        copy.execute("VACUUM")  # nothing of them stays in the file's empty pages
        require_sound(copy)
        return int(copy.execute("SELECT count(*) FROM people WHERE ended = 0").fetchone()[0])


def photo_files(folder: Path) -> Iterator[tuple[str, Path]]:
    """The photos of a folder: (digest that names it, file)."""
    for path in sorted(folder.iterdir()) if folder.is_dir() else ():
        if found := PHOTO_FILE.fullmatch(path.name):
            yield found[1], path


def photos_known(conn: sqlite3.Connection) -> set[str]:
    """The digests of all photos that the log knows."""
    rows = conn.execute(
        "SELECT json_extract(understood, '$.digest') FROM entries WHERE kind = 'photo'"
    )
    return {str(row[0]) for row in rows if row[0]}


def digest_of(path: Path) -> str:
    """SHA-256 of a file."""
    worked = sha256()
    with path.open("rb") as file:
        while lot := file.read(_LOT):
            worked.update(lot)
    return worked.hexdigest()


def require_alone(path: Path) -> None:
    """See that nobody else has a log open, and fold its journal into the one file.

    Raises
    ------
    Problem
        A server or another program has it open, or it is no log.
    """
    try:
        with closing(sqlite3.connect(path, timeout=0.5, isolation_level=None)) as conn:
            # Leaving the journal needs the file to oneself: whoever has it open is in the way.
            conn.execute("PRAGMA journal_mode=DELETE")
            conn.execute("BEGIN EXCLUSIVE")
    except sqlite3.OperationalError as error:
        raise Problem(
            "db",
            str(path),
            say("The log {path} is in use.", path=path),
            say("Stop the server that shows it first (Ctrl-C where it runs), then try again."),
        ) from error
    except sqlite3.DatabaseError as error:
        raise Problem(
            "db",
            str(path),
            say("The log {path} could not be opened: {why}.", path=path, why=str(error)),
            say("Name the file of a log."),
        ) from error
