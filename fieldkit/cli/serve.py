"""``fieldkit serve``: the pages, on this machine unless told otherwise."""

from __future__ import annotations

import gc
import ipaddress
import logging
import socket
import sys
from pathlib import Path
from typing import Any

import click

from fieldkit.app import make_app, prepare_phones
from fieldkit.cli.common import Stop, any_log, db_option
from fieldkit.cli.demo import DEMO_LOG, load_demo
from fieldkit.flows.warm import warm
from fieldkit.web import clock
from fieldkit.web.listening import server_on

#: Largest body that is taken in at all; the pages have lower limits of their own. [bytes]
_LARGEST_BODY = 64 * 1024 * 1024

#: Threads that answer, beside the one that reads and writes. Python runs one at a time, and the
#: turns they take from each other halve what they get done: fifty clients wait half as long for
#: one thread as for four. What comes in slowly is read before it takes up the one.
_ANSWERING = 1

#: How soon the thread that reads and writes gets its turn. [s]
_TURN_S = 0.0002

#: A page elsewhere cannot ask this machine under a name of its own.
LOOPBACK_NAMES = frozenset({"localhost", "127.0.0.1", "::1"})


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
@click.option(
    "--https",
    is_flag=True,
    help="A server in front of this one speaks HTTPS: cookies travel no other way.",
)
@db_option
def serve_command(host: str, port: int, demo: bool, https: bool, db: Path | None) -> None:
    """Serve the pages. Only this machine can reach them unless you give --host.

    With --host everyone logs in; fieldkit people add-lead makes the first who can.

    Entries go to one file in your data folder, or to the one named by --db.
    """
    name = DEMO_LOG if demo else "fieldkit.db"
    with any_log(db, name) as (log, path):
        if demo:
            click.echo(load_demo(log, clock.now()))
        count = log.count()
    try:
        family = socket.AF_INET6 if ":" in host else socket.AF_INET
        listening = socket.create_server((host, port), family=family)
    except OSError as error:
        raise Stop(
            f"Cannot listen on {host} port {port}: {error.strerror}. Try another --port."
        ) from error
    beyond = https or not is_loopback(host)
    app = make_app(
        path,
        listens_beyond=beyond,
        secure_cookies=https,
        hosts=frozenset() if beyond else LOOPBACK_NAMES,
    )
    # In front stands a server of ours on this machine; only it may say who really asks.
    front: dict[str, Any] = (
        {
            "trusted_proxy": "127.0.0.1",
            "trusted_proxy_headers": {"x-forwarded-for", "x-forwarded-proto", "x-forwarded-host"},
        }
        if https
        else {}
    )
    server = server_on(
        listening,
        app,
        ident="fieldkit",
        threads=_ANSWERING,
        max_request_body_size=_LARGEST_BODY,
        **front,
    )
    click.echo(f"Log: {path} ({count} entries)")
    if beyond:
        click.echo("Everyone logs in. The first lead: fieldkit people add-lead NAME")
    if beyond and not https:
        click.echo(
            "Caution: what is sent, passwords too, can be read on the way. Put a server that speaks"
            " HTTPS in front, and give --https.",
            err=True,
        )
    # One line for each request that waits its turn would be most of the work of a busy moment.
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)
    warm()
    # What stands after warming up stays: the collector need not walk through it again and again.
    gc.collect()
    gc.freeze()
    sys.setswitchinterval(_TURN_S)
    shown = f"[{host}]" if ":" in host else host
    bound = listening.getsockname()[1]
    click.echo(f"Open http://{shown}:{bound} in a browser. Stop with Ctrl-C.")
    prepare_phones(app, click.echo)
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
