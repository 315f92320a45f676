"""``fieldkit phone``: what phones need to work without signal, and the tool as plain files."""

from __future__ import annotations

from pathlib import Path

import click

from fieldkit.cli.common import Stop
from fieldkit.phone import runtime
from fieldkit.phone.export import export
from fieldkit.phone.kit import Kit


@click.group("phone")
def phone_command() -> None:
    """What phones need to work without signal."""


@phone_command.command("status")
def status_command() -> None:
    """Say what is here for phones, and where.

    Exit status 2 when something is missing.
    """
    folder: Path = runtime.runtime_folder()
    for package in runtime.PACKAGES:
        click.echo(f"{package.name} {package.version}")
    missing: list[str] = runtime.missing(folder)
    if missing:
        raise Stop(
            f"Not in {folder}: {', '.join(missing)}. Phones cannot work without signal yet."
            " Fetch them with: fieldkit phone fetch"
        )
    click.echo(f"All of it is in {folder}, and every file is the one that was pinned.")
    kit = Kit(folder)
    click.echo(f"A phone fetches {kit.about()['size'] / 1e6:.1f} MB, once.")
    if not kit.compiled:
        click.echo(
            "There is no node here to compile it with, so the first start takes a phone longer."
        )
    click.echo("Open /phone on the phone, in reach of this server, to take it to the field.")


@phone_command.command("fetch")
def fetch_command() -> None:
    """Fetch the runtime that phones need, once.

    It comes from its registry by name, in one exact version, and is checked by its digest.
    """
    folder: Path = runtime.runtime_folder()
    runtime.fetch(folder, click.echo)
    click.echo(f"All of it is in {folder}. Start the server with: fieldkit serve")


@phone_command.command("export")
@click.argument("folder", type=click.Path(file_okay=False, path_type=Path))
@click.option("--base", default="/", show_default=True, help="Where it will lie on its host.")
def export_command(folder: Path, base: str) -> None:
    """Write the whole tool to FOLDER as plain files.

    Any host that serves files over https can serve it. There is no account and no server: the
    log stays on the phone, and jobs are carried by file.
    """
    size: int = export(folder, base)
    click.echo(f"Written to {folder}. A phone fetches {size / 1e6:.1f} MB of it, once.")
    click.echo(f"Look at it with: python3 -m http.server --directory {folder}")
