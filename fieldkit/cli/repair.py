"""``fieldkit repair``: a whole log from a torn file."""

from __future__ import annotations

from pathlib import Path

import click

from fieldkit.cli.common import db_option, log_path, require_there
from fieldkit.joblog.repair import repair
from fieldkit.web import clock
from fieldkit.web.pages.backup import place_of


@click.command("repair")
@db_option
def repair_command(db: Path | None) -> None:
    """Make a whole log from a torn one, and say what is gone.

    Every entry that can still be read is kept, in its order; the torn file is moved aside, never
    changed. A backup is better where there is one: fieldkit restore. Stop the server first.
    Afterwards everyone logs in again, and phones send all that they have once more.
    """
    path = log_path(db)
    require_there(path)
    done = repair(place_of(path), "torn-" + clock.now()[:19].replace(":", ""))
    click.echo(f"{done.entries} entries are in {path}.")
    for first, last, before, after in done.gone:
        when = f"arrived after {before or 'the beginning'} and before {after or 'the end'}"
        number = f"entry {first}" if first == last else f"entries {first} to {last}"
        click.echo(f"Gone: {number}, {when}.", err=True)
    if not done.gone:
        click.echo("No entry before the last is gone. Whether later ones are cannot be known.")
    click.echo(f"{done.seals - len(done.broken)} of {done.seals} seals hold.")
    for one in done.broken:
        click.echo(f"A broken seal: {one}.", err=True)
    if not done.company:
        click.echo("Whose log it is could not be read: phones and files of before are refused"
                   " until a lead brings them in on purpose.", err=True)  # fmt: skip
    click.echo(f"The torn file is in {done.aside}.")
