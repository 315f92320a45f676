"""``fieldkit verify``: whether what was signed is still what the log holds."""

from __future__ import annotations

from pathlib import Path

import click

from fieldkit.cli.common import Stop, db_option, existing_log, plainly
from fieldkit.joblog import JobLog
from fieldkit.joblog.integrity import drifted, missing_guards, seals
from fieldkit.joblog.marks import BROUGHT_IN, UNFIT
from fieldkit.joblog.rework import reworked


@click.command("verify")
@click.option("--rework", is_flag=True, help="Also work out every result again.")
@db_option
def verify_command(db: Path | None, rework: bool) -> None:
    """Work out every seal again.

    Names the first entry under each that no longer matches. Compare the printed digest with the
    one on the paper record. What the log says of each job is worked out anew from its entries,
    too, and so is whether the guards that keep entries from being changed are in place. With
    --rework it says of every result what this version answers otherwise. That is no fault where
    an older version made it.
    """
    faults = []
    count = broken = 0
    with plainly(), existing_log(db) as log:
        elsewhere = {one.entry for one in log.marks(BROUGHT_IN)}
        for job, one in seals(log):
            count += 1
            broken += not one.whole
            name = (one.signature.understood or {}).get("name", "")
            digest = (one.signature.result or {}).get("digest", "")
            said = "holds" if one.whole else f"is broken: entry {one.wrong} {one.why}"
            if one.signature.id in elsewhere:
                said += " (it came from a file)"
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
        for mark in log.marks(UNFIT):
            click.echo(f"Entry {mark.entry} is set aside in part: {mark.said.get('parts')}.")
        if rework:
            tell_reworked(log)
    if faults:
        raise Stop("\n".join(faults))
    click.echo(f"{count} seals, and every one holds.")


def tell_reworked(log: JobLog) -> None:
    """Say of each result and pick that comes out otherwise what stands there, and what comes."""
    count = otherwise = 0
    with log.reading() as conn:
        places = conn.execute("SELECT job, id FROM joints ORDER BY job, id").fetchall()
    for job, joint in places:
        for one in reworked(log, job, joint, None):
            count += 1
            if one.same:
                continue
            otherwise += 1
            said = (one.entry.result or {}).get("headline", one.entry.understood)
            now = f"“{one.now}”" if one.now else "nothing, as its answers lead to none"
            where = f"Job {job}, joint {joint}, {one.entry.flow}, entry {one.entry.id}"
            click.echo(f"{where}: not reproduced.\n  It says “{said}”; this version says {now}.")
    click.echo(f"{count} results worked out again, {otherwise} come out otherwise.")
