"""``export`` and ``import``: entries out, and in again."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable, Iterator
from contextlib import ExitStack, closing
from pathlib import Path
from shutil import copyfileobj
from tempfile import TemporaryFile
from typing import IO

import click

from fieldkit.cli.common import ON_THE_SERVER, Stop, any_log, db_option, existing_log, log_path
from fieldkit.engine.problems import Problem
from fieldkit.engine.words import say
from fieldkit.joblog import JobLog, JobNow, bringing, exchange
from fieldkit.joblog.acceptance import OF_NOBODY, Rules
from fieldkit.joblog.people import People
from fieldkit.web import clock
from fieldkit.web.access import tally
from fieldkit.web.create import people_file, photo_folder
from fieldkit.web.photos import FolderPhotos, take_carried

#: How many refused entries are named one by one.
_NAMED = 20


@click.command("export")
@click.argument("job", required=False)
@click.option("--all", "everything", is_flag=True, help="Take out every job and the price list.")
@click.option("--csv", "as_csv", is_flag=True, help="Write CSV for a spreadsheet, not JSON.")
@click.option(
    "-o",
    "--output",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Write to this file, not to standard output.",
)
@db_option
def export_command(
    job: str | None, everything: bool, as_csv: bool, output: Path | None, db: Path | None
) -> None:
    """Take a JOB out of the log as one file.

    The job is named by its id or its name. The file holds every entry whole, JSON the photos
    too, and fieldkit import reads it back, here or elsewhere.
    """
    if (job is None) != everything:
        raise click.UsageError("Name one job, or give --all.")
    with existing_log(db) as log:
        job_id = "" if job is None else _job_id(log, job)
        entries = exchange.entries_of(log, job_id)
        if as_csv:
            lines = exchange.csv_lines(entries)
        else:
            lines = exchange.json_lines(entries, log.company, _photos(log, job_id, db))
        if output is None:
            sys.stdout.buffer.writelines(line.encode() for line in lines)
            return
        _write_whole(output, lines)
    click.echo(f"Written to {output}. Bring it in elsewhere with: fieldkit import {output}")


def _photos(log: JobLog, job_id: str, db: Path | None) -> Iterator[tuple[str, bytes]]:
    """The photos of a job that are here, as its file carries them."""
    store = FolderPhotos(photo_folder(log_path(db)))
    for digest in exchange.photos_named(exchange.entries_of(log, job_id)):
        data = store.read(digest)
        if data is not None:
            yield digest, data


def _job_id(log: JobLog, asked: str) -> str:
    if log.job(asked) is not None:
        return asked
    after: tuple[str, str] | None = None
    named: list[JobNow] = []
    while page := log.jobs(500, after):
        after = page[-1].after
        named.extend(job for job in page if job.name.casefold() == asked.casefold())
    if len(named) == 1:
        return named[0].id
    if named:
        raise Problem(
            "job",
            asked,
            say("{n} jobs are called that.", n=len(named)),
            say("Give the id of one: {ids}.", ids=", ".join(job.id for job in named[:10])),
        )
    raise Problem(
        "job",
        asked,
        say("No job has that id or name."),
        say("Give one of these, or {option}: {names}.", option="--all", names=_some_names(log)),
    )


def _some_names(log: JobLog) -> str:
    return ", ".join(f"“{job.name}”" if job.name else job.id for job in log.jobs(8)) or "none yet"


def _write_whole(path: Path, lines: Iterable[str]) -> None:
    """Write beside the place, then move there: the file is whole or as it was before."""
    part = path.with_name(path.name + ".part")
    try:
        with part.open("w", encoding="utf-8", newline="") as out:
            out.writelines(lines)
            out.flush()
            os.fsync(out.fileno())
        part.replace(path)
    except OSError as error:
        part.unlink(missing_ok=True)
        raise Stop(f"{path} could not be written: {error.strerror}.") from error


@click.command("import")
@click.argument("file", type=click.File("rb"))
@click.option("--elsewhere", is_flag=True, help="Also what belongs to another company’s log.")
@db_option
def import_command(file: IO[bytes], elsewhere: bool, db: Path | None) -> None:
    """Bring in a FILE that fieldkit export wrote.

    JSON or CSV; - reads standard input. What is here already stays as it is, so doing it
    twice does no harm. The rules are those of the page. Each new entry says that it
    came from a file. A log that holds nothing yet takes any company's file.
    """
    with any_log(db) as (log, path), ExitStack() as kept:
        if not file.seekable():  # standard input is read once, a file twice
            piped: IO[bytes] = kept.enter_context(TemporaryFile())
            copyfileobj(file, piped)
            file = piped
        carried = exchange.carried_by(file)
        company = "" if elsewhere or not log.count() else log.company
        people = people_file(path)
        store = kept.enter_context(closing(People(people))) if people.exists() else None
        names = tuple(one.name for one in store.everyone()) if store else ()
        rules = Rules(company=company, from_company=carried.company, refused_kinds=OF_NOBODY,
                      brought_from="file", names=names)  # fmt: skip
        done = bringing.bring_in(log, carried, rules, clock.now)
        photos_refused = take_carried(log, FolderPhotos(photo_folder(path)), carried.photos())
        done.refuse(photos_refused)
        if store:
            told = tally(done.new, done.already, done.refused)
            store.note(clock.now_ms(), "", "brought in", told, ON_THE_SERVER)
    here = carried.photo_count - len(photos_refused)
    photos = f", {here} photos" if carried.photo_count else ""
    click.echo(
        f"{done.new} new, {done.already} here already, {done.refused} refused{photos}, in {path}."
    )
    for who, (count, signed) in sorted(done.writers.items()):
        click.echo(f"  {who or 'nobody named'}: {count}{', with a signature' if signed else ''}")
    if done.doubted:
        click.echo(f"  {done.doubted} results come out otherwise when worked out again.")
    for where, problem in done.named[:_NAMED]:
        click.echo(f"  {where}, {problem.field}: {problem.wrong} {problem.instead}", err=True)
    if done.refused > _NAMED:
        click.echo(f"  … and {done.refused - _NAMED} more.", err=True)
    if done.refused:
        raise Stop("Not every entry could be kept. Those that could are.")
