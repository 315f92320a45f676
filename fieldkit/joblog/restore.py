"""A backup put back: checked first, never over what stands there, which is moved aside."""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
import tempfile
import zipfile
import zlib
from contextlib import closing, suppress
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import Any

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import Text, say
from fieldkit.joblog.backup import (
    ABOUT,
    FORMAT,
    LOG,
    PEOPLE,
    PHOTO_FILE,
    PHOTOS,
    Place,
    require_alone,
    require_sound,
)
from fieldkit.joblog.integrity import arrivals, broken_among, layout, seals
from fieldkit.joblog.log import JobLog
from fieldkit.joblog.schema import with_journals

_LOT = 1 << 20
#: The list in a copy is short text, whatever it says of itself. [bytes]
_LARGEST_LIST = 50_000_000

#: What reading a torn or altered archive raises.
_TORN = (zipfile.BadZipFile, zlib.error, EOFError, RuntimeError, NotImplementedError, ValueError)


@dataclass(frozen=True, slots=True)
class Restored:
    """What was put back; ``aside`` is where that now stands which stood there before."""

    entries: int
    photos: int
    people: bool
    made_at: str
    seals: int
    broken: tuple[str, ...]
    aside: Path | None


def restore(
    file: Path, place: Place, stamp: str, *, replace: bool = False, broken_seals: bool = False
) -> Restored:
    """Put a copy back into ``place``.

    It is unpacked beside the place and checked there: every digest, the database, its guards,
    every seal, every photo. Only then are things moved, the server's secret too: with a new one
    the phones see that this is another copy, and send again what it may have lost.

    Parameters
    ----------
    stamp : str
        This moment, to name the folder into which what stands there is moved.
    replace : bool
        Something may stand there; it is moved aside.
    broken_seals : bool
        Put the copy back although a seal in it does not hold.

    Raises
    ------
    Problem
        The copy is not whole, something stands there, or a server shows it.
    """
    standing = [one for one in (place.log, place.people, place.photos) if _stands(one)]
    if standing and not replace:
        names = ", ".join(one.name for one in standing)
        raise Problem(
            "db",
            str(place.log),
            say("Something stands there already: {names}.", names=names),
            say(
                "Name another place with {db}, or give {replace}: what stands there is moved"
                " aside, not lost.",
                db="--db",
                replace="--replace",
            ),
        )
    if _stands(place.log):
        require_alone(place.log)
    try:
        place.log.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(dir=place.log.parent, prefix=".restore-") as folder:
            staged = Place(*(Path(folder, name) for name in (LOG, PEOPLE, "photos", "none")))
            restored = _unpacked(file, staged, broken_seals=broken_seals)
            aside = _move_aside(place, stamp) if standing or _stands(place.secret) else None
            _move_in(staged, place)
    except OSError as error:
        raise Problem(
            "file",
            str(file),
            say("The copy could not be put back: {why}.", why=str(error)),
            say("Give a file that can be read, and a place on a disk with room."),
        ) from error
    return Restored(**restored, aside=aside)


def _stands(path: Path) -> bool:
    return any(path.iterdir()) if path.is_dir() else path.exists()


# ── Unpack and check ────────────────────────────────────────────────────────────────────────


def _unpacked(file: Path, staged: Place, *, broken_seals: bool) -> dict[str, Any]:
    try:
        with zipfile.ZipFile(file) as archive:
            about = _about(archive)
            if _size(archive) > shutil.disk_usage(staged.log.parent).free:
                raise _refused(say("The disk has no room for it."))
            staged.photos.mkdir(mode=0o700)
            photos = 0
            for name, digest in about["sha256"].items():
                found = PHOTO_FILE.fullmatch(name.removeprefix(PHOTOS))
                target = staged.photos / found[0] if found else staged.log.with_name(name)
                if _unpack(archive, name, target) != digest or (found and found[1] != digest):
                    raise _refused(say("{name} in it is not what it was.", name=name))
                photos += bool(found)
    except Problem:
        raise
    except _TORN as error:
        raise _refused(say("It is torn, changed, or something else.")) from error
    try:
        entries, held, broken = _checked_log(staged.log)
        if staged.people.exists():
            with closing(sqlite3.connect(staged.people)) as conn:
                require_sound(conn)
                conn.execute("SELECT id, name, login, role, job, password, ended FROM people")
    except sqlite3.DatabaseError as error:
        raise _refused(say("A database in it is damaged: {why}.", why=str(error))) from error
    if entries != about["entries"]:
        raise _refused(say("Its entries are not as many as it says."))
    if broken and not broken_seals:
        raise Problem(
            "file",
            file.name,
            say("In this copy a seal is broken: {first}.", first=broken[0]),
            say(
                "Take an older copy, or give {option} to put it back all the same.",
                option="--broken-seals",
            ),
        )
    return {
        "entries": entries,
        "photos": photos,
        "people": staged.people.exists(),
        "made_at": str(about["made_at"]),
        "seals": held,
        "broken": broken,
    }


def _refused(wrong: Text) -> Problem:
    return Problem(
        "file",
        "",
        say("This is no whole backup. {wrong}", wrong=wrong),
        say("Take another copy, made with {command}.", command="fieldkit backup FILE"),
    )


def _about(archive: zipfile.ZipFile) -> dict[str, Any]:
    """The list in the copy, which must name all that is in it and nothing else."""
    with suppress(KeyError):
        if archive.getinfo(ABOUT).file_size <= _LARGEST_LIST:
            about = json.loads(archive.read(ABOUT))
            if isinstance(about, dict) and about.get("format") == FORMAT and _listed(about):
                there = sorted(archive.namelist())
                if there == sorted([ABOUT, *about["sha256"]]):
                    return about
    raise _refused(say("What it holds is not what its list says, or it has no list."))


def _listed(about: dict[str, Any]) -> bool:
    digests = about.get("sha256")
    return (
        isinstance(digests, dict)
        and LOG in digests
        and {"made_at", "entries"} <= set(about)
        and all(
            one in {LOG, PEOPLE}
            or (one.startswith(PHOTOS) and PHOTO_FILE.fullmatch(one.removeprefix(PHOTOS)))
            for one in digests
        )
    )


def _size(archive: zipfile.ZipFile) -> int:
    return sum(one.file_size for one in archive.infolist())


def _unpack(archive: zipfile.ZipFile, name: str, target: Path) -> str:
    """Unpack one member under a name of ours; returns the digest of what came out."""
    worked = sha256()
    handle = os.open(target, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with archive.open(name) as source, os.fdopen(handle, "wb") as out:
        while lot := source.read(_LOT):
            worked.update(lot)
            out.write(lot)
        out.flush()
        os.fsync(out.fileno())
    return worked.hexdigest()


def _checked_log(path: Path) -> tuple[int, int, tuple[str, ...]]:
    """Look at the unpacked log: how many entries and seals, and which seals are broken.

    What its jobs are now is worked out anew from the entries.
    """
    with closing(sqlite3.connect(path)) as conn:
        require_sound(conn)
        if not conn.execute("SELECT 1 FROM sqlite_master WHERE name = 'entries'").fetchone():
            raise sqlite3.DatabaseError("it is no log")
    with JobLog.open(path) as log:
        laid_out = layout(log)
        if laid_out.missing or laid_out.extra:
            names = ", ".join((*laid_out.missing, *laid_out.extra))
            raise sqlite3.DatabaseError(f"it is not laid out as a log is ({names})")
        found = list(seals(log))
        arrived = arrivals(log)
        entries = log.rebuild()
    broken = tuple(broken_among(found)) + (
        () if arrived.whole else ("entries are not as they arrived",)
    )
    require_alone(path)  # one plain file again, to be moved
    return entries, len(found), broken


# ── Move ────────────────────────────────────────────────────────────────────────────────────


def _move_aside(place: Place, stamp: str) -> Path:
    """Move what stands there into a folder of its own beside it."""
    aside = Path(tempfile.mkdtemp(dir=place.log.parent, prefix=f"{place.log.stem}-{stamp}-"))
    for one in (place.log, place.people, place.photos, place.secret):
        for path in with_journals(one):
            if path.exists():
                path.rename(aside / path.name)
    return aside


def _move_in(staged: Place, place: Place) -> None:
    """Move the checked things to their place, the log last: with it, all is there."""
    if place.photos.is_dir():
        place.photos.rmdir()  # it is empty: what stood in it was moved
    staged.photos.rename(place.photos)
    if staged.people.exists():
        staged.people.rename(place.people)
    staged.log.rename(place.log)
