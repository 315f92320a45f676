"""``backup``, ``drill`` and ``restore``: all of it in one file, tried out, and put back."""

from __future__ import annotations

from pathlib import Path

import click

from fieldkit.cli.common import Stop, db_option, existing_log, log_path, noting
from fieldkit.joblog.backup import backup
from fieldkit.joblog.drill import drill
from fieldkit.joblog.encrypted import opened
from fieldkit.joblog.keeping import copies_of, copy_name, read_rule, too_many
from fieldkit.joblog.restore import restore
from fieldkit.web import clock
from fieldkit.web.pages.backup import place_of


def read_keep(ctx: click.Context, param: click.Parameter, given: str | None) -> str | None:
    """A rule that says which copies stay."""
    try:
        if given:
            read_rule(given)
    except ValueError as error:
        raise click.BadParameter(
            "Give numbers of days, weeks, months or years: 7d4w12m."
        ) from error
    return given


identity_option = click.option(
    "--identity",
    type=click.Path(exists=True, dir_okay=False, path_type=Path, allow_dash=True),
    help="The file of the key that opens an encrypted copy; - reads it from standard input.",
)


@click.command("backup")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--keep", callback=read_keep, metavar="7d4w12m",
              help="FILE is a folder: a new copy goes there, and of those there stay the last of"
              " so many days, weeks, months, years.")  # fmt: skip
@click.option("--encrypt-to", multiple=True, metavar="KEY",
              help="Encrypt it to a public key of age (or ssh), or to those in a file; may be given"
              " more than once. Only who has the other half opens it.")  # fmt: skip
@db_option
def backup_command(
    *, file: Path, keep: str | None, encrypt_to: tuple[str, ...], db: Path | None
) -> None:
    """Copy everything to one FILE, also while the server runs.

    The log, who may enter, and the photos. Left out is what opens a door: the server's secret,
    open sessions, invitations. A file that is there already is never written over. FILE is a
    zip archive; the log in it opens with any SQLite program. Where FILE is a folder, the copy
    gets a name by its time.
    """
    path, now = log_path(db), clock.now()
    with existing_log(db) as log, noting(path, "backup") as noted:
        if keep and not file.is_dir():
            raise Stop(f"There is no folder {file}. Make it, or connect its disk.")
        if file.is_dir():
            file = file / copy_name(path, now, encrypted=bool(encrypt_to))
        done = backup(log, place_of(path), file, now, encrypt_to=encrypt_to)
        noted.append(str(file.absolute()))
    click.echo(
        f"{done.entries} entries, {done.photos} photos and {done.people} people of {path}"
        f" copied to {file} and checked{' before they were encrypted' * bool(encrypt_to)}."
    )
    if done.elsewhere:
        click.echo(f"{done.elsewhere} photos of this log are not here, but on another copy.")
    for digest in done.damaged:
        click.echo(f"Left out, because it is damaged here: photo {digest}.", err=True)
    if keep:
        there = copies_of(path, file.parent)
        gone = too_many(there, read_rule(keep))
        for one in gone:
            one.path.unlink()
        click.echo(f"{len(there) - len(gone)} copies stay, {len(gone)} were older than {keep}.")
    key = " --identity KEYFILE" if encrypt_to else ""
    click.echo(f"Put it back with: fieldkit restore {file} --db PLACE{key}")


@click.command("drill")
@click.argument("file", type=click.Path(exists=True, path_type=Path))
@identity_option
@db_option
def drill_command(*, file: Path, identity: Path | None, db: Path | None) -> None:
    """Put a backup FILE back into a scratch place, to try it.

    FILE may be a folder: then its newest copy. Digests, seals and photos are checked, the jobs
    worked out anew, and all of it is held against the log that stands, which stays as it is. The
    scratch place is gone after it. A page for leads says when the last drill was.
    """
    path = log_path(db)
    with existing_log(db) as log, noting(path, "drill") as noted:
        if file.is_dir():
            there = copies_of(path, file)
            if not there:
                raise Stop(f"There is no backup of {path.name} in {file}.")
            file = there[0].path
        with opened(file, identity, path.parent) as plain:
            done = drill(plain, log, place_of(path))
        noted.append(str(file.absolute()))
        one = done.restored
        click.echo(f"{file}, made {one.made_at}:")
        click.echo(f"  put back: {one.entries} entries, {one.photos} photos, {one.seals} seals,"
                   f" {'and' if one.people else 'without'} who may enter")  # fmt: skip
        click.echo(f"  the log that stands has {done.since} more entries")
        if done.wrong:
            raise Stop("\n".join(done.wrong))
    click.echo("It can be put back, and holds what it should.")


@click.command("restore")
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--replace", is_flag=True, help="Move aside what stands there; nothing is lost.")
@click.option("--broken-seals", is_flag=True, help="Put it back although a seal does not hold.")
@identity_option
@db_option
def restore_command(
    *, file: Path, replace: bool, broken_seals: bool, identity: Path | None, db: Path | None
) -> None:
    """Put a backup FILE back, after checking it.

    Into your data folder, or where --db says. Its digests, the database, every seal and every
    photo are checked first. Nothing that stands there is written over. Everyone logs in again.
    """
    path = log_path(db)
    stamp = "before-" + clock.now()[:19].replace(":", "")
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    with opened(file, identity, path.parent) as plain:
        done = restore(plain, place_of(path), stamp, replace=replace, broken_seals=broken_seals)
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
