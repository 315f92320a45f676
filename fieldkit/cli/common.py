"""What several commands share: where the log is kept, and how a problem is said."""

from __future__ import annotations

import sqlite3
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import click

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import say
from fieldkit.joblog import JobLog, upkeep
from fieldkit.joblog.places import data_folder
from fieldkit.joblog.schema import what_helps
from fieldkit.web import clock

#: Where from what a command does is done, in the list of what happened.
ON_THE_SERVER = "on the server"


class Stop(click.ClickException):
    """Ends a command with a plain sentence and exit status 2."""

    exit_code = 2

    def show(self, file: Any = None) -> None:
        """Say it on standard error, without a prefix."""
        click.echo(self.message, file=file or sys.stderr)


#: What reading rows comes to that a torn disk or a hand has changed.
_UNREADABLE = (ValueError, TypeError, LookupError, AttributeError, RecursionError)


def stop_for(error: Exception, *, reads_log: bool = True) -> Exception:
    """What stopped a command in plain sentences: a ``Problem``, or what became of a file."""
    if isinstance(error, Problem):
        return Stop(f"{error.wrong} {error.instead}")
    if isinstance(error, sqlite3.Error):
        return Stop(f"The log could not be used: {error}. {what_helps(error)}")
    if isinstance(error, OSError) and not isinstance(error, BrokenPipeError):
        where = f"{error.filename}: " if error.filename else ""
        return Stop(f"{where}{error.strerror or error}. Nothing more was done.")
    if reads_log and isinstance(error, _UNREADABLE):
        return Stop(
            f"Something in the log or beside it is not as fieldkit wrote it ({error}). Nothing more"
            " was done. See what with fieldkit verify, and take out what can still be read with"
            " fieldkit repair."
        )
    return error


def log_path(given: Path | None, name: str = "fieldkit.db") -> Path:
    """The file of the log: the one named, or the usual one."""
    return given or data_folder() / name


def db_option(command: Callable[..., Any]) -> Callable[..., Any]:
    """Give a command ``--db``."""
    return click.option(
        "--db",
        "db",
        type=click.Path(dir_okay=False, path_type=Path),
        envvar="FIELDKIT_DB",
        help="The log's file. Without it: fieldkit.db in your data folder.",
    )(command)


def require_there(path: Path) -> None:
    """See that a log is where it was said to be; a mistyped name never makes an empty one.

    Raises
    ------
    Problem
        There is no such file.
    """
    if not path.is_file():
        raise Problem(
            "db",
            str(path),
            say("There is no log at {path}.", path=path),
            say(
                "Name its file with {option}, or begin one with {serve}.",
                option="--db",
                serve="fieldkit serve",
            ),
        )


@contextmanager
def noting(log: Path, what: upkeep.What) -> Iterator[list[str]]:
    """Note beside the log that something was done, or that it failed; the list says about what."""
    about: list[str] = []
    try:
        yield about
    except Exception as error:
        upkeep.note(log, what, clock.now(), " ".join(about), str(stop_for(error)))
        raise
    upkeep.note(log, what, clock.now(), " ".join(about))


@contextmanager
def existing_log(given: Path | None) -> Iterator[JobLog]:
    """The log to read from, which must be there."""
    path = log_path(given)
    require_there(path)
    with JobLog.open(path) as log:
        _tell_upgrade(log)
        yield log


@contextmanager
def any_log(given: Path | None, name: str = "fieldkit.db") -> Iterator[tuple[JobLog, Path]]:
    """The log to write to, made if it is not there, where only its owner can read it."""
    path = log_path(given, name)
    try:
        path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    except OSError as error:
        raise Stop(f"The folder {path.parent} could not be made: {error.strerror}.") from error
    with JobLog.open(path) as log:
        _tell_upgrade(log)
        yield log, path


def _tell_upgrade(log: JobLog) -> None:
    """Say where the log is as it was, if it was an older version's until now."""
    if log.copied_first is not None:
        click.echo(
            f"This version keeps the log in a newer form. As it was, it is in {log.copied_first}:"
            " delete that when all is well.",
            err=True,
        )
