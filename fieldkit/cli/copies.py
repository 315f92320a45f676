"""``backup`` and ``restore``: all of it in one file, and put back."""

from __future__ import annotations

from pathlib import Path

import click

from fieldkit.cli.common import db_option, existing_log, log_path
from fieldkit.joblog.backup import backup
from fieldkit.joblog.restore import restore
from fieldkit.web import clock
from fieldkit.web.pages.backup import place_of


@click.command("backup")
@click.argument("file", type=click.Path(dir_okay=False, path_type=Path))
@db_option
def backup_command(file: Path, db: Path | None) -> None:
    """Copy everything to one FILE, also while the server runs.

    The log, who may enter, and the photos. Left out is what opens a door: the server's secret,
    open sessions, invitations. A file that is there already is never written over. FILE is a
    zip archive; the log in it opens with any SQLite program.
    """
    with existing_log(db) as log:
        path = log_path(db)
        done = backup(log, place_of(path), file, clock.now())
    click.echo(
        f"{done.entries} entries, {done.photos} photos and {done.people} people of {path}"
        f" copied to {file} and checked."
    )
    if done.elsewhere:
        click.echo(f"{done.elsewhere} photos of this log are not here, but on another copy.")
    for digest in done.damaged:
        click.echo(f"Left out, because it is damaged here: photo {digest}.", err=True)
    click.echo(f"Put it back with: fieldkit restore {file} --db PLACE")


@click.command("restore")
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--replace", is_flag=True, help="Move aside what stands there; nothing is lost.")
@click.option("--broken-seals", is_flag=True, help="Put it back although a seal does not hold.")
@db_option
def restore_command(file: Path, replace: bool, broken_seals: bool, db: Path | None) -> None:
    """Put a backup FILE back, after checking it.

    Into your data folder, or where --db says. Its digests, the database, every seal and every
    photo are checked first. Nothing that stands there is written over. Everyone logs in again.
    """
    path = log_path(db)
    stamp = "before-" + clock.now()[:19].replace(":", "")
    done = restore(file, place_of(path), stamp, replace=replace, broken_seals=broken_seals)
    click.echo(
        f"{done.entries} entries and {done.photos} photos, as they were at {done.made_at},"
        f" are in {path}."
    )
    click.echo(f"{done.seals - len(done.broken)} of {done.seals} seals hold.")
    for one in done.broken:
        click.echo(f"A broken seal: {one}.", err=True)
    if done.aside:
        click.echo(f"What stood there before is in {done.aside}.")
    click.echo(f"Look at it with: fieldkit serve --db {path}")
