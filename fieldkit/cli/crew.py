"""``fieldkit crew``: the lead's page on the command line, for people and for programs."""

from __future__ import annotations

import json
from pathlib import Path

import click

from fieldkit.cli.common import db_option, existing_log
from fieldkit.web import clock
from fieldkit.web.pages.crew import FILTERS, WORDS, csv_of, week_json


@click.command("crew")
@click.option("--week", "period", flag_value="7", help="Joints worked on in the last seven days.")
@click.option("--month", "period", flag_value="30", help="In the last thirty.")
@click.option("--all", "period", flag_value="all", default="all", help="All joints (the default).")
@click.option("--place", default="", help="Only at this place.")
@click.option("--person", default="", help="Only where this person worked.")
@click.option("--kind", default="", help="Only this kind of joint, such as npt_thread.")
@click.option("--cause", default="", help="Only what failed of this cause.")
@click.option("--by-person", is_flag=True, help="Count what comes back by person too.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
@click.option("--csv", "as_csv", is_flag=True, help="Print a line a joint as CSV.")
@db_option
def crew_command(  # noqa: PLR0917  -- by name, from click
    period: str, place: str, person: str, kind: str, cause: str, by_person: bool, as_json: bool,
    as_csv: bool, db: Path | None,
) -> None:  # fmt: skip
    """Say what leaks, waits and comes back; what to order.

    What was waived is said too.
    """
    if as_json and as_csv:
        raise click.UsageError("Give --json or --csv, not both.")
    only = dict(zip(FILTERS, (place, person, kind, cause), strict=True))
    with existing_log(db) as log:
        data = week_json(log, {"period": period, **only}, clock.now(), by_person=by_person)
    if as_json:
        click.echo(json.dumps(data, ensure_ascii=False))
        return
    if as_csv:
        click.echo(csv_of(data), nl=False)
        return
    for number, behind in data["numbers"].items():
        older = behind["before_the_period"]
        before = f" (and {older} from before)" if older else ""
        click.echo(f"{WORDS[number][1]}: {behind['count']}{before}")
        for one in behind["joints"]:
            people = ", ".join(one["people"])
            told = (one["job_name"], one["joint_name"], people, one["last"], one["words"])
            click.echo("  " + " · ".join(word for word in told if word))
    click.echo("What comes back, of the joints made here (Wilson’s 95 % interval):")
    for by, rates in data["returns"].items():
        for one in rates if isinstance(rates, list) else ():
            figures = f"{one['came_back']} of {one['of']}"
            span = f"{100 * one['low']:.0f} to {100 * one['high']:.0f} in a hundred"
            sure = "too few to tell" if one["too_few_to_tell"] else span
            click.echo(f"  {by}: {one['in_words'] or 'all'}: {figures}, {sure}")
    click.echo("The order:")
    for line in data["order"]:
        if line["to_buy"]:
            click.echo(f"  {line['to_buy']} × {line['name']} ({line['trade']})")
