"""``fieldkit people``: the first lead, invitations, and sessions ended from here."""

from __future__ import annotations

import secrets
from pathlib import Path

import click

from fieldkit.cli.common import any_log, db_option, existing_log, log_path, plainly
from fieldkit.engine.problems import Problem
from fieldkit.engine.words import say
from fieldkit.joblog import JobLog, new_id
from fieldkit.joblog.people import ROLES, People, Person, Role
from fieldkit.web import clock
from fieldkit.web.create import people_file
from fieldkit.web.pages.people import entry_of
from fieldkit.web.passwords import hash_password


@click.group("people")
def people_command() -> None:
    """Who may enter when others can reach the server."""


def _store(log: JobLog) -> People:
    assert log.path is not None  # noqa: S101  -- opened by path
    return People(people_file(log.path))


@people_command.command("add-lead")
@click.argument("name")
@click.password_option(help="Asked for when it is left out, which is safer.")
@db_option
def add_lead_command(name: str, password: str, db: Path | None) -> None:
    """Let NAME enter as a lead, who invites the others."""
    with plainly(), any_log(db) as (log, path):
        store = _store(log)
        made_id = new_id(clock.now_ms(), secrets.token_bytes(10))
        person = Person(made_id, " ".join(name.split())[:80], "lead")
        store.add(person, hash_password(password, name))
        log.append([entry_of(person, person.name)], clock.now())
        store.close()
    click.echo(f"{person.name} is a lead in {path}. Log in at the server's address.")


@people_command.command("list")
@db_option
def list_command(db: Path | None) -> None:
    """List who may enter, and on how many devices."""
    with plainly(), existing_log(db) as log:
        store = _store(log)
        for one in store.all():
            click.echo(f"{one.id}  {one.role:10}  {one.name}  ({len(store.sessions(one.id))})")
        if not store.all():
            click.echo("Nobody yet. Begin with: fieldkit people add-lead NAME")
        store.close()


@people_command.command("invite")
@click.argument("name")
@click.option("--role", type=click.Choice(ROLES), default="technician", show_default=True,
              help="What the person may do.")  # fmt: skip
@click.option("--job", default="", help="The one job that a guest sees, by its id.")
@click.option("--at", "address", default="http://localhost:8080", show_default=True,
              help="Where the server is reached.")  # fmt: skip
@db_option
def invite_command(name: str, role: Role, job: str, address: str, db: Path | None) -> None:
    """Print a link that lets NAME in once, within three days."""
    with plainly(), existing_log(db) as log:
        if role == "guest" and log.job(job) is None:
            raise Problem(
                "job",
                job,
                say("There is no such job."),
                say("Name a guest's job with {option}.", option="--job"),
            )
        store = _store(log)
        token = secrets.token_urlsafe(24)
        store.invite(token, name[:80], role, clock.now_ms(), job if role == "guest" else "")
        store.close()
    click.echo(f"{address.rstrip('/')}/join/{token}")


@people_command.command("end-sessions")
@click.argument("name")
@db_option
def end_sessions_command(name: str, db: Path | None) -> None:
    """Log NAME out on every device."""
    with plainly(), existing_log(db) as log:
        store = _store(log)
        found = store.named(name)
        if found is None:
            raise Problem(
                "name",
                name,
                say("Nobody here is called {name}.", name=name),
                say("See the names with {command}.", command="fieldkit people list"),
            )
        count = store.end_sessions(found[0].id)
        store.close()
    click.echo(f"{found[0].name}: {count} sessions of {log_path(db)} ended.")
