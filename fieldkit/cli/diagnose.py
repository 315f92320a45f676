"""``fieldkit diagnose``: how good the diagnosis is, on told cases and on drawn ones."""

from __future__ import annotations

import csv
import json
from dataclasses import asdict
from pathlib import Path

import click

from fieldkit.cli.common import Stop
from fieldkit.flows.diagnosing.score import read_cases, score, simulate


@click.group("diagnose")
def diagnose_command() -> None:
    """Measure how often the diagnosis is right."""


@diagnose_command.command("score")
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--blind", type=click.FloatRange(0, 1), default=0.0, show_default=True,
              help="Share of the answers replaced by “can’t tell”, at random.")  # fmt: skip
@click.option("--seed", type=int, default=0, show_default=True, help="Start of the random draw.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def score_command(file: Path, blind: float, seed: int, as_json: bool) -> None:
    """Play each case of FILE, answering only what is asked.

    FILE is a CSV with the columns case_id, answers (question=value;…), true_causes and
    acceptable; others are ignored. A question with no answer there is “can’t tell”.
    """
    try:
        cases = read_cases(file.read_text(encoding="utf-8-sig"))
    except (UnicodeDecodeError, csv.Error) as error:
        raise Stop(f"{file} is no CSV file in UTF-8.") from error
    result = score(cases, blind=blind, seed=seed)
    figures = {key: value for key, value in asdict(result).items() if key != "missed"}
    if as_json:
        click.echo(json.dumps({**figures, "missed": list(result.missed)}))
        return
    for name, value in figures.items():
        click.echo(f"{name}: {value:g}")
    if result.missed:
        click.echo(f"Not first: {', '.join(result.missed)}")


@diagnose_command.command("simulate")
@click.option("--draws", type=click.IntRange(1, 100_000), default=1000, show_default=True,
              help="How many failures to draw.")  # fmt: skip
@click.option("--unknown", type=click.FloatRange(0, 1), default=0.15, show_default=True,
              help="Share of answers that no one can tell.")  # fmt: skip
@click.option("--wrong", type=click.FloatRange(0, 1), default=0.05, show_default=True,
              help="Share of answers that are wrong.")  # fmt: skip
@click.option("--past", type=click.IntRange(0, 100_000), default=None,
              help="So many failures found out, in a company with a mix of its own.")  # fmt: skip
@click.option("--seed", type=int, default=0, show_default=True, help="Start of the random draw.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def simulate_command(  # noqa: PLR0917  -- by name, from click
    draws: int, unknown: float, wrong: float, past: int | None, seed: int, as_json: bool
) -> None:
    """Play failures drawn from the table itself.

    With --past, the same draws are played once more by a company that does not look at its log.
    """
    names = {"fieldkit": True} if past is None else {"with its log": True, "without": False}
    played = {
        name: asdict(
            simulate(draws, seed=seed, unknown=unknown, wrong=wrong, past=past, learns=learns)
        )
        for name, learns in names.items()
    }
    if as_json:
        click.echo(json.dumps(played))
        return
    for name, row in played.items():
        click.echo(
            f"{name}: first {row['first']:.1%}, right repair {row['right_repair']:.1%}, "
            f"in top three {row['in_top_three']:.1%}, "
            f"{row['mean_questions']:.1f} questions, claims {row['claimed']:.1%}"
        )
