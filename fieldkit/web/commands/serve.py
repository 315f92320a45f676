"""``fieldkit serve``: the pages, on this machine unless told otherwise."""

from __future__ import annotations

import ipaddress
import socket
from importlib import import_module
from pathlib import Path

import click
from flask import Flask
from waitress.server import create_server

from fieldkit.web.commands.common import Stop, any_log, db_option, plainly
from fieldkit.web.commands.demo import load_demo

#: Largest body that is taken in at all; the pages have lower limits of their own. [bytes]
_LARGEST_BODY = 32 * 1024 * 1024


@click.command("serve")
@click.option("--host", default="127.0.0.1", show_default=True, help="Address to listen on.")
@click.option(
    "--port",
    default=8080,
    show_default=True,
    type=click.IntRange(0, 65535),
    help="Port to listen on; 0 takes any free one.",
)
@click.option(
    "--demo", is_flag=True, help="Show invented jobs, in a log of their own unless --db is given."
)
@db_option
def serve_command(host: str, port: int, demo: bool, db: Path | None) -> None:
    """Serve the pages. Only this machine can reach them unless you give --host.

    Entries go to one file in your data folder, or to the one named by --db.
    """
    name = "demo.db" if demo else "fieldkit.db"
    with plainly(), any_log(db, name) as (log, path):
        if demo:
            click.echo(load_demo(log))
        count = log.count()
    try:
        family = socket.AF_INET6 if ":" in host else socket.AF_INET
        listening = socket.create_server((host, port), family=family)
    except OSError as error:
        raise Stop(
            f"Cannot listen on {host} port {port}: {error.strerror}. Try another --port."
        ) from error
    # By name, because the room of the pages comes before the one that joins them.
    joined = import_module("fieldkit.app")
    app: Flask = joined.make_app(path)
    server = create_server(
        app, sockets=[listening], ident="fieldkit", max_request_body_size=_LARGEST_BODY
    )
    click.echo(f"Log: {path} ({count} entries)")
    if not is_loopback(host):
        click.echo(
            "Caution: others on the network can reach this. There is no log-in, and what is sent"
            " can be read on the way. Put it behind a server with HTTPS and passwords.",
            err=True,
        )
    shown = f"[{host}]" if ":" in host else host
    bound = listening.getsockname()[1]
    click.echo(f"Open http://{shown}:{bound} in a browser. Stop with Ctrl-C.")
    joined.prepare_phones(app, click.echo)
    try:
        server.run()
    finally:
        server.close()
        app.extensions["joblog"].close()


def is_loopback(host: str) -> bool:
    """Whether only this machine can reach the address.

    Examples
    --------
    >>> is_loopback("localhost"), is_loopback("::1"), is_loopback("0.0.0.0")
    (True, True, False)
    """
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False
