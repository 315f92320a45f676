"""``fieldkit verify``: whether what was signed is still what the log holds."""

from __future__ import annotations

import json
from pathlib import Path

import click

from fieldkit.joblog import JobLog
from fieldkit.joblog.signing import all_entries, check
from fieldkit.web.commands.common import Stop, db_option, existing_log, plainly

#: What keeps entries from being changed through any SQLite program.
_GUARDS = {"entries_are_not_replaced", "entries_are_not_changed", "entries_are_not_removed"}


@click.command("verify")
@db_option
def verify_command(db: Path | None) -> None:
    """Work out every seal again.

    Names the first entry under each that no longer matches. Compare the printed digest with the
    one on the paper record.
    """
    broken = seals = 0
    with plainly(), existing_log(db) as log:
        missing = _GUARDS - guards(log)
        for job in jobs_signed(log):
            try:
                checked = check(all_entries(log, job))
            except (json.JSONDecodeError, TypeError) as error:
                raise Stop(f"Job {job}: an entry cannot be read any more ({error}).") from error
            for one in checked:
                seals += 1
                name = (one.signature.understood or {}).get("name", "")
                digest = (one.signature.result or {}).get("digest", "")
                said = "holds" if one.whole else f"is broken: entry {one.wrong} {one.why}"
                click.echo(f"Job {job}, signed by {name} at {one.signature.at}: {said}.")
                click.echo(f"  {one.covers} entries, {len(one.after)} after it, digest {digest}")
                broken += not one.whole
    if missing:
        raise Stop(f"The log's guards were taken away: {', '.join(sorted(missing))}.")
    if broken:
        raise Stop(f"{broken} of {seals} seals are broken: the log was changed by hand.")
    click.echo(f"{seals} seals, and every one holds.")


def guards(log: JobLog) -> set[str]:
    """The triggers of the file."""
    with log.reading() as conn:
        rows = conn.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")
        return {row[0] for row in rows}


def jobs_signed(log: JobLog) -> list[str]:
    """The jobs that bear a signature."""
    with log.reading() as conn:
        rows = conn.execute("SELECT DISTINCT job FROM entries WHERE kind = 'signature' ORDER BY 1")
        return [row[0] for row in rows]
