"""``fieldkit verify``: whether the log is still what was signed, what arrived and what it says."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import click

from fieldkit.cli.common import Stop, db_option, existing_log, log_path, noting
from fieldkit.joblog import JobLog
from fieldkit.joblog.integrity import arrivals, drifted, layout, photos, seals, unsound
from fieldkit.joblog.marks import BROUGHT_IN, UNFIT
from fieldkit.joblog.rework import Known, reworked
from fieldkit.web.create import photo_folder

#: How many of a kind are named one by one.
_NAMED = 5


@click.command("verify")
@click.option("--rework", is_flag=True, help="Also work out every result again.")
@click.option("--head", "heads", multiple=True, help="A head that a record prints, SIZE:DIGEST.")
@db_option
def verify_command(db: Path | None, rework: bool, heads: tuple[str, ...]) -> None:
    """Work out every seal again.

    Names the first entry under each that no longer matches. Compare the printed digest with the
    one on the paper record. What arrived is held against what is there; photos are read; the
    file's layout with its guards is compared with a new log's; what the log says of each job is
    worked out anew from its entries. A head from a paper record shows whether the log is still
    the one of that day. With --rework it says of every result what this version answers
    otherwise. That is no fault where an older version made it.
    """
    path = log_path(db)
    with existing_log(db) as log, noting(path, "verify") as noted:
        head = look_through(log, photo_folder(path), rework=rework, heads=heads)
        noted.append(head)


def look_through(log: JobLog, photos_in: Path, *, rework: bool, heads: tuple[str, ...]) -> str:
    """Look at all of a log and say what was found; returns its head.

    Raises
    ------
    Stop
        Something is not as it was.
    """
    faults = []
    count = broken = 0
    from_files = {one.entry for one in log.marks(BROUGHT_IN)}
    for job, one in seals(log):
        count += 1
        broken += not one.whole
        name = (one.signature.understood or {}).get("name", "")
        digest = (one.signature.result or {}).get("digest", "")
        said = "holds" if one.whole else f"is broken: entry {one.wrong} {one.why}"
        if one.signature.id in from_files:
            said += " (it came from a file)"
        click.echo(f"Job {job}, signed by {name} at {one.signature.at}: {said}.")
        click.echo(f"  {one.covers} entries, {len(one.after)} after it, digest {digest}")
    if broken:
        faults.append(f"{broken} of {count} seals are broken: the log was changed by hand.")
    faults += [*_arrival_faults(log), *_head_faults(log, heads), *_layout_faults(log)]
    changed, elsewhere = photos(log, photos_in)
    if changed:
        faults.append(f"{len(changed)} photos are not what was taken: {_first(changed)}.")
    if elsewhere:
        click.echo(f"{elsewhere} photos are not here.")
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
    now = log.head()
    head = f"{now.size}:{now.root}" if now is not None else ""
    click.echo(f"Head {head}")
    click.echo(f"{count} seals, and every one holds.")
    return head


def tell_reworked(log: JobLog) -> None:
    """Say of each result and pick that comes out otherwise what stands there, and what comes."""
    count = otherwise = 0
    known = Known(log)
    with log.reading() as conn:
        places = conn.execute("SELECT job, id FROM joints ORDER BY job, id").fetchall()
    for job, joint in places:
        for one in reworked(log, job, joint, known=known):
            count += 1
            if one.same:
                continue
            otherwise += 1
            said = (one.entry.result or {}).get("headline", one.entry.understood)
            now = f"“{one.now}”" if one.now else "nothing, as its answers lead to none"
            where = f"Job {job}, joint {joint}, {one.entry.flow}, entry {one.entry.id}"
            click.echo(f"{where}: not reproduced.\n  It says “{said}”; this version says {now}.")
    click.echo(f"{count} results worked out again, {otherwise} come out otherwise.")


def _arrival_faults(log: JobLog) -> Iterator[str]:
    found = arrivals(log)
    if found.gone:
        places = _first(tuple(map(str, found.gone)))
        yield f"{len(found.gone)} entries that arrived are gone or changed: number {places}."
    if found.strange:
        yield f"{len(found.strange)} entries never arrived as they are: {_first(found.strange)}."
    if found.swapped:
        yield "Entries stand in another order than they arrived in."
    if found.torn:
        yield "The list of what arrived does not fit together: it was changed by hand."


def _head_faults(log: JobLog, heads: tuple[str, ...]) -> Iterator[str]:
    for one in heads:
        size, _, root = one.partition(":")
        then = log.head(int(size)) if size.isdecimal() and len(size) < 16 else None
        if then is None or then.root != root.strip().lower():
            yield f"This log is not the one that had the head {one}: it was written anew since."


def _layout_faults(log: JobLog) -> Iterator[str]:
    found = layout(log)
    if found.missing:
        names = ", ".join(found.missing)
        yield f"The log's tables or guards were taken away or changed: {names}."
    if found.extra:
        yield f"Something was put into the log's file that is not ours: {', '.join(found.extra)}."
    if wrong := unsound(log):
        yield f"The log's file is damaged inside: {wrong}."


def _first(names: tuple[str, ...]) -> str:
    return ", ".join(names[:_NAMED]) + (" …" if len(names) > _NAMED else "")
