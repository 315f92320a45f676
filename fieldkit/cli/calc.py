"""``fieldkit calc NAME``: one calculation, JSON in and JSON out."""

from __future__ import annotations

import json
import sys
from typing import Any, NoReturn

import click

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import Text, say
from fieldkit.flows.calculations import CALCULATIONS, calculate, calculation

#: No request is longer, nor any forecast in it. [bytes]
LARGEST_REQUEST = 1_000_000


@click.command("calc")
@click.argument("name", required=False)
@click.option("--list", "listed", is_flag=True, help="List the names of the calculations.")
def calc_command(name: str | None, listed: bool) -> None:
    """Answer one calculation, JSON in and JSON out.

    The request is read from standard input, the answer is written to standard output.
    Exit status 0 with an answer. Exit status 2 with a problem, which is JSON too.

    \b
    Example:
      echo '{"od": "0.840 in"}' | fieldkit calc identify
    """
    if listed:
        for one in CALCULATIONS:
            click.echo(one)
        return
    if name is None:
        raise click.UsageError("Name a calculation. See them with: fieldkit calc --list")
    try:
        calculation(name)  # a wrong name is said before anything is read
        answer = calculate(name, _request())
    except Problem as problem:
        _write({"problem": problem.as_dict()})
        sys.exit(2)
    _write(answer.as_json())


def _request() -> object:
    if sys.stdin.isatty():
        click.echo("Type the request as JSON, then end the input (Ctrl-D).", err=True)
    sent = sys.stdin.buffer.read(LARGEST_REQUEST + 1)
    if len(sent) > LARGEST_REQUEST:
        raise _unreadable(say("The request is over {limit} bytes.", limit=f"{LARGEST_REQUEST:,}"))
    if not sent.strip():
        raise _unreadable(say("Nothing came in on standard input."))
    try:
        return json.loads(sent.decode("utf-8-sig"), parse_constant=_no_such_number)
    except (ValueError, RecursionError):
        raise _unreadable(say("This is not JSON.")) from None


def _no_such_number(name: str) -> NoReturn:
    raise ValueError(f"JSON has no {name}")


def _unreadable(wrong: Text) -> Problem:
    example = '{"od": "0.700 in"}'
    return Problem(
        "request", None, wrong, say("Send a JSON object, such as {example}.", example=example)
    )


def _write(body: dict[str, Any]) -> None:
    """Write JSON in UTF-8, whatever the terminal's own encoding is."""
    text = json.dumps(body, ensure_ascii=False, indent=2, default=str)
    sys.stdout.buffer.write(text.encode("utf-8", "backslashreplace") + b"\n")
