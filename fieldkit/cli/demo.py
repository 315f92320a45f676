"""The demo: what ``fieldkit serve --demo`` loads, and ``fieldkit demo wipe`` takes away again."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import suppress
from importlib.resources.abc import Traversable
from pathlib import Path

import click

from fieldkit.cli.common import Stop, db_option, existing_log, log_path
from fieldkit.cli.demo_month import load_month, month_ids
from fieldkit.engine.problems import Problem
from fieldkit.engine.words import say
from fieldkit.flows.choosing.prices import demo_prices
from fieldkit.flows.demo import demo_folder
from fieldkit.joblog import Entry, JobLog, JobNow, exchange
from fieldkit.joblog.backup import Place, photo_files, require_alone
from fieldkit.joblog.people import People
from fieldkit.joblog.read import ILLUSTRATIVE
from fieldkit.joblog.schema import with_journals
from fieldkit.joblog.upkeep import upkeep_file
from fieldkit.web import clock
from fieldkit.web.pages.backup import place_of

#: The demo's log, where no other is named.
DEMO_LOG = "demo.db"

#: Made before every demo job, so that any list of the user's own is newer and wins.
_PRICES_ID = "019b7600-0000-7000-8000-000000000001"
_PRICES_AT = "2026-01-01T00:00:00.000Z"


def demo_price_list() -> Entry:
    """The illustrative list as an entry that says what it is."""
    return Entry(
        id=_PRICES_ID,
        at=_PRICES_AT,
        job="",
        kind="prices",
        understood=demo_prices(),
        note=ILLUSTRATIVE,
    )


def demo_files() -> list[Traversable]:
    """The invented jobs, a file each."""
    files = sorted(demo_folder().iterdir(), key=lambda file: file.name)
    return [file for file in files if file.name.endswith(".json")]


def load_demo(log: JobLog, today: str = "") -> str:
    """Bring the invented jobs in, and the price list where there is none; twice adds nothing.

    With ``today`` comes a crew's month as well, which ends on that day.
    """
    found = demo_files()
    done = [exchange.import_file(log, file.read_bytes(), None) for file in found]
    if not log.prices().entry:
        done.append(log.append([demo_price_list()], clock.now()))
    new = sum(len(one.stored) for one in done)
    month = ""
    if today:
        new += load_month(log, today)
        month = " a crew’s month,"
    return (
        f"Demo: {len(found)} invented jobs,{month} and an invented price list, {new} entries added."
    )


@click.group("demo")
def demo_command() -> None:
    """The invented jobs that serve --demo shows."""


@demo_command.command("wipe")
@click.option("--mine-too", is_flag=True, help="Also what you added to the demo yourself.")
@db_option
def wipe_command(mine_too: bool, db: Path | None) -> None:
    """Remove the demo: its log, photos and people.

    Only a log that holds the invented jobs is ever removed. One that holds work of your own as
    well is left as it is: in the demo's own place --mine-too removes it, anywhere else nothing
    does. Stop the demo's server first.
    """
    place = place_of(log_path(db, DEMO_LOG))
    if not place.log.is_file():
        raise Problem(
            "db",
            str(place.log),
            say("There is no demo at {path}.", path=place.log),
            say("There is nothing to remove."),
        )
    with existing_log(place.log) as log:
        jobs = _require_demo(log, place, mine_too=mine_too and db is None)
        entries, added = log.count(), log.count() - _shipped(log)
    require_alone(place.log)
    try:
        photos = _remove(place)
    except OSError as error:
        raise Stop(f"{error.filename} could not be removed: {error.strerror}.") from error
    click.echo(f"Removed: {place.log}")
    click.echo(f"  {entries} entries, of them {added} added here; {photos} photos.")
    for job in jobs:
        click.echo(f"  {job.name or 'Joints without a job'}{'' if job.demo else ' (your own)'}")
    click.echo("See the demo again with: fieldkit serve --demo")


def _require_demo(log: JobLog, place: Place, *, mine_too: bool) -> tuple[JobNow, ...]:
    """The jobs of a log that is the demo’s own.

    Raises
    ------
    Problem
        No invented job is in it, or something of the user's own is in it as well.
    """
    jobs = tuple(_all_jobs(log))
    if not any(job.demo for job in jobs):
        raise Problem(
            "db",
            str(place.log),
            say("{path} is not the demo: no invented job is in it.", path=place.log),
            say("It is left as it is."),
        )
    own = [f"“{job.name or 'Joints without a job'}”" for job in jobs if not job.demo]
    if any(one.note != ILLUSTRATIVE for one in log.price_history()):
        own.append("a price list")
    if place.people.is_file():
        store = People(place.people)
        own += [f"{person.name}, who may enter" for person in store.all()]
        store.close()
    if own and not mine_too:
        raise Problem(
            "db",
            str(place.log),
            say("{path} holds more than the demo: {own}.", path=place.log, own=", ".join(own)),
            say(
                "It is left as it is. Take out what you want to keep with {export}; {option}"
                " removes it from the demo’s own place.",
                export="fieldkit export",
                option="--mine-too",
            ),
        )
    return jobs


def _all_jobs(log: JobLog) -> Iterator[JobNow]:
    after: tuple[str, str] | None = None
    while page := log.jobs(500, after):
        after = page[-1].after
        yield from page


def _shipped(log: JobLog) -> int:
    """How many of the log's entries came with the demo."""
    ids = [one["id"] for file in demo_files() for one in json.loads(file.read_bytes())["entries"]]
    return sum(log.entry(one) is not None for one in (*ids, *month_ids(), _PRICES_ID))


def _remove(place: Place) -> int:
    """Remove the demo's files, the log last; says how many photos went."""
    photos = 0
    for _, path in photo_files(place.photos):
        path.unlink()
        photos += 1
    with suppress(OSError):  # what somebody else put there stays
        place.photos.rmdir()
    for one in (place.people, place.log):
        for journal in with_journals(one)[1:]:
            journal.unlink(missing_ok=True)
    # What was noted of it, and copies from before a newer version took it over.
    for path in (upkeep_file(place.log), *place.log.parent.glob(f"{place.log.stem}-before-*")):
        path.unlink(missing_ok=True)
    place.people.unlink(missing_ok=True)
    place.secret.unlink(missing_ok=True)
    place.log.unlink()
    return photos
