"""``fieldkit``: serve the pages, answer one calculation, carry the log, check the tables.

Each command lives in a module of its own in this folder and is loaded when it is called, so
``fieldkit calc`` does not wait for a web server to be imported.
"""

from __future__ import annotations

from importlib import import_module
from typing import Any

import click

#: Command → the module beside this one that holds a function of that name, dashes as ``_``.
COMMANDS = {
    "serve": "serve",
    "setup": "setup",
    "calc": "calc",
    "export": "carry",
    "import": "carry",
    "backup": "copies",
    "restore": "copies",
    "drill": "copies",
    "demo": "demo",
    "people": "people",
    "verify": "verify",
    "repair": "repair",
    "crew": "crew",
    "tables": "tables",
    "phone": "phone",
    "diagnose": "diagnose",
}


#: Commands that read no log: a fault in one of these is a fault of ours.
WITHOUT_LOG = frozenset({"setup", "calc", "tables", "phone", "diagnose"})


class Lazy(click.Group):
    """A group that imports a command only when it is asked for."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """The names, in the order of ``COMMANDS``."""
        return [*COMMANDS, *super().list_commands(ctx)]

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command of that name, imported now."""
        if cmd_name not in COMMANDS:
            return super().get_command(ctx, cmd_name)
        module = import_module(f"fieldkit.cli.{COMMANDS[cmd_name]}")
        found: click.Command = getattr(module, f"{cmd_name.replace('-', '_')}_command")
        return found

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command; what stops it is said in a sentence, never by a traceback."""
        try:
            return super().invoke(ctx)
        except (click.ClickException, click.Abort, click.exceptions.Exit):
            raise
        except Exception as error:
            common = import_module("fieldkit.cli.common")
            reads_log = ctx.invoked_subcommand not in WITHOUT_LOG
            raise common.stop_for(error, reads_log=reads_log) from error


@click.command(cls=Lazy, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="fieldkit")
def main() -> None:
    """A field checklist for joints between polyethylene tubing and PVC pipe.

    Begin with: fieldkit serve --demo
    """


if __name__ == "__main__":
    main(prog_name="fieldkit")
