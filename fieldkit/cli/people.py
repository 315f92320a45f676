"""``fieldkit people``: the first lead, invitations, links for a new password, and what happened."""

from __future__ import annotations

import secrets
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import click

from fieldkit.cli.common import ON_THE_SERVER, any_log, db_option, existing_log, log_path
from fieldkit.engine.problems import Problem
from fieldkit.engine.words import say
from fieldkit.joblog import JobLog, new_id, utc_text
from fieldkit.joblog.names import read_name, same_name
from fieldkit.joblog.people import DOINGS, ROLES, People, Person, Role
from fieldkit.joblog.upkeep import done
from fieldkit.web import clock
from fieldkit.web.create import people_file
from fieldkit.web.pages.people import entry_of
from fieldkit.web.passwords import hash_password


@click.group("people")
def people_command() -> None:
    """Who may enter when others can reach the server."""


@contextmanager
def _store(db: Path | None) -> Iterator[tuple[JobLog, People]]:
    """The log that is there, and who may enter it."""
    with existing_log(db) as log, closing(People(people_file(log_path(db)))) as store:
        yield log, store


def _named(store: People, name: str) -> Person:
    """The person of a name, also one whose access was ended.

    Raises
    ------
    Problem
        There is none.
    """
    for one in store.everyone():
        if same_name(one.name) == same_name(name):
            return one
    raise Problem(
        "name",
        name,
        say("Nobody here is called {name}.", name=name),
        say("See the names with {command}.", command="fieldkit people list"),
    )


def _link(store: People, person: Person, address: str, db: Path | None) -> str:
    token = secrets.token_urlsafe(24)
    served_at = done(log_path(db)).get("served", {}).get("about")
    address = address or served_at or "http://localhost:8080"
    store.invite(token, person.name, person.role, clock.now_ms(), person.job,
                 person=person.id, maker=ON_THE_SERVER)  # fmt: skip
    return f"{address.rstrip('/')}/join/{token}"


at_option = click.option("--at", "address", default="",
                         help="Where the server is reached, if not its --public-url.")  # fmt: skip


@people_command.command("add-lead")
@click.argument("name")
@click.password_option(help="Asked for when it is left out, which is safer.")
@db_option
def add_lead_command(name: str, password: str, db: Path | None) -> None:
    """Let NAME enter as a lead, who invites the others."""
    with any_log(db) as (log, path), closing(People(people_file(path))) as store:
        made_id = new_id(clock.now_ms(), secrets.token_bytes(10))
        person = Person(made_id, read_name(name), "lead")
        store.add(person, hash_password(password, name))
        log.append([entry_of(person, person.name)], clock.now())
        store.note(clock.now_ms(), person.name, "made lead", whence=ON_THE_SERVER)
    click.echo(f"{person.name} is a lead in {path}. Log in at the server's address.")


@people_command.command("list")
@db_option
def list_command(db: Path | None) -> None:
    """List who may enter, on how many devices, and who is invited."""
    with _store(db) as (_, store):
        for one in store.all():
            click.echo(f"{one.id}  {one.role:10}  {one.name}  ({len(store.sessions(one.id))})")
        for gone in store.ended():
            click.echo(f"{gone.id}  {'ended':10}  {gone.name}")
        for open_one in store.invites(clock.now_ms()):
            what = "reset" if open_one.person else "invited"
            click.echo(f"{open_one.key[:12]}  {what:10}  {open_one.name}, {open_one.role},"
                       f" until {utc_text(open_one.until)}")  # fmt: skip
        if not store.all():
            click.echo("Nobody yet. Begin with: fieldkit people add-lead NAME")


@people_command.command("invite")
@click.argument("name")
@click.option("--role", type=click.Choice(ROLES), default="technician", show_default=True,
              help="What the person may do.")  # fmt: skip
@click.option("--job", default="", help="The one job that a guest sees, by its id.")
@at_option
@db_option
def invite_command(name: str, role: Role, job: str, address: str, db: Path | None) -> None:
    """Print a link that lets NAME in once, within three days."""
    with _store(db) as (log, store):
        if role == "guest" and log.job(job) is None:
            raise Problem(
                "job",
                job,
                say("There is no such job."),
                say("Name a guest's job with {option}.", option="--job"),
            )
        person = Person("", read_name(name), role, job if role == "guest" else "")
        click.echo(_link(store, person, address, db))
        store.note(clock.now_ms(), "", "invited", person.name, ON_THE_SERVER)


@people_command.command("revoke")
@click.argument("key")
@db_option
def revoke_command(key: str, db: Path | None) -> None:
    """Take an invitation back.

    It is named by the beginning of its KEY in the list.
    """
    with _store(db) as (_, store):
        found = [one for one in store.invites(clock.now_ms()) if one.key.startswith(key)]
        if len(found) != 1:
            raise Problem(
                "key",
                key,
                say("{n} invitations have that key.", n=len(found)),
                say("See the keys with {command}.", command="fieldkit people list"),
            )
        store.revoke(found[0].key)
        store.note(clock.now_ms(), "", "revoked", found[0].name, ON_THE_SERVER)
    click.echo(f"The link for {found[0].name} works no more.")


@people_command.command("reset")
@click.argument("name")
@at_option
@db_option
def reset_command(name: str, address: str, db: Path | None) -> None:
    """Print a link by which NAME chooses a new password.

    It works also after access was ended, once, within three days. NAME keeps the name, the role
    and all that was written, on a phone too. What is left of wrong tries at the name is forgotten.
    """
    with _store(db) as (_, store):
        person = _named(store, name)
        click.echo(_link(store, person, address, db))
        store.right(f"name {same_name(person.name)}")
        store.note(clock.now_ms(), "", "reset", person.name, ON_THE_SERVER)


@people_command.command("end-sessions")
@click.argument("name")
@db_option
def end_sessions_command(name: str, db: Path | None) -> None:
    """Log NAME out on every device."""
    with _store(db) as (_, store):
        found = _named(store, name)
        count = store.end_sessions(found.id)
        store.note(clock.now_ms(), "", "logged out", found.name, ON_THE_SERVER)
    click.echo(f"{found.name}: {count} sessions of {log_path(db)} ended.")


@people_command.command("log")
@click.option("--last", default=200, show_default=True, type=click.IntRange(1),
              help="How many lines.")  # fmt: skip
@db_option
def log_command(last: int, db: Path | None) -> None:
    """Print what happened at the door, the last at the end.

    Who entered, was invited, brought something in or was refused.
    """
    with _store(db) as (_, store):
        for one in reversed(store.doings(last)):
            words = (utc_text(one.at), one.who or "–", DOINGS.get(one.what, one.what), one.about)
            whence = f"({one.whence})" if one.whence else ""
            # What a stranger typed must not steer the terminal that reads it.
            line = " ".join(part for part in (*words, whence) if part)
            click.echo("".join(c if c.isprintable() else "?" for c in line))
