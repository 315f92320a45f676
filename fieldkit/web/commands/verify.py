"""``fieldkit verify``: whether what was signed is still what the log holds."""

from __future__ import annotations

from pathlib import Path

import click

from fieldkit.joblog.whole import drifted, missing_guards, seals
from fieldkit.web.commands.common import Stop, db_option, existing_log


@click.command("verify")
@db_option
def verify_command(db: Path | None) -> None:
    """Work out every seal again.

    Names the first entry under each that no longer matches. Compare the printed digest with the
    one on the paper record. What the log says of each job is worked out anew from its entries,
    too, and so is whether the guards that keep entries from being changed are in place.
    """
    faults = []
    count = broken = 0
    with existing_log(db) as log:
        for job, one in seals(log):
            count += 1
            broken += not one.whole
            name = (one.signature.understood or {}).get("name", "")
            digest = (one.signature.result or {}).get("digest", "")
            said = "holds" if one.whole else f"is broken: entry {one.wrong} {one.why}"
            click.echo(f"Job {job}, signed by {name} at {one.signature.at}: {said}.")
            click.echo(f"  {one.covers} entries, {len(one.after)} after it, digest {digest}")
        if broken:
            faults.append(f"{broken} of {count} seals are broken: the log was changed by hand.")
        if guards := missing_guards(log):
            names = ", ".join(one.split(":")[0] for one in guards)
            faults.append(f"The log's guards were taken away: {names}.")
        faults += [
            f"Job {job} is not what its entries say: its pages were changed by hand."
            for job in drifted(log)
        ]
    if faults:
        raise Stop("\n".join(faults))
    click.echo(f"{count} seals, and every one holds.")
