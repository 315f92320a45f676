"""A copy of the log that is whole at one moment, made while others go on writing."""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing
from pathlib import Path

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import say
from fieldkit.joblog.log import JobLog


def backup(log: JobLog, target: Path) -> int:
    """Copy the log to ``target``, one plain file that any SQLite program opens.

    The copy is made beside its place and checked before it takes its name, so a file of that
    name is always a whole copy.

    Returns
    -------
    int
        How many entries the copy holds.

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
        with closing(sqlite3.connect(part)) as copy:
            with log.reading() as conn:
                conn.backup(copy)
            copy.execute("PRAGMA journal_mode=DELETE")
            healthy = copy.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
            count = int(copy.execute("SELECT count(*) FROM entries").fetchone()[0])
        if not healthy:
            raise sqlite3.DatabaseError("the copy did not pass its check")
        with part.open("rb") as made:
            os.fsync(made.fileno())
        part.rename(target)
    except (OSError, sqlite3.Error) as error:
        part.unlink(missing_ok=True)
        raise Problem(
            "file",
            target.name,
            say("The copy could not be made: {why}.", why=str(error)),
            say("Give a file in a folder that exists, on a disk with room."),
        ) from error
    return count
