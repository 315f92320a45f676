"""``fieldkit serve``: the pages, on this machine unless told otherwise."""

from __future__ import annotations

import gc
import ipaddress
import logging
import signal
import socket
import sys
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import click

from fieldkit.app import make_app, prepare_phones
from fieldkit.cli.common import Stop, any_log, db_option
from fieldkit.cli.demo import DEMO_LOG, load_demo
from fieldkit.flows.warm import warm
from fieldkit.joblog.upkeep import note
from fieldkit.web import clock
from fieldkit.web.access import host_name
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


#: What a phone lacks where the pages come without HTTPS, and how to have it.
WITHOUT_HTTPS = """\
Caution: without HTTPS what is sent, passwords too, can be read on the way, and no phone can take
the tool along: browsers keep a tool only from an address with HTTPS (a "secure context").
Three ways to have it:
  1. A name that is reached from everywhere, and a server with HTTPS in front of this one:
     fieldkit setup NAME writes what it needs.
  2. A name in your own network, with a certificate of your own that each phone is told to trust:
     fieldkit setup NAME --tls internal
  3. No server at all: fieldkit phone export FOLDER, put on any host of files that has HTTPS.
     A job then goes from phone to phone as a file."""


def read_public_url(ctx: click.Context, param: click.Parameter, given: str) -> str:
    """An address without a path, as it stands before the path of every page.

    Examples
    --------
    >>> read_public_url(None, None, "https://Crew.example.net/")
    'https://crew.example.net'
    """
    if not given:
        return ""
    try:
        parts = urlsplit(given)
        if (
            parts.scheme in {"http", "https"}
            and host_name(parts.netloc)
            and parts.path in {"", "/"}
        ):
            return f"{parts.scheme}://{parts.netloc.lower()}"
    except ValueError:
        pass
    raise click.BadParameter("Give it as https://NAME, with a port if it has one, and no more.")


def read_address(ctx: click.Context, param: click.Parameter, given: str | None) -> str | None:
    """The address of a machine, in the one way in which it is compared."""
    try:
        return given and str(ipaddress.ip_address(given))
    except ValueError as error:
        raise click.BadParameter("Give one address, such as 127.0.0.1.") from error


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
    "--public-url",
    default="",
    callback=read_public_url,
    help="Where others reach it, such as https://crew.example.net: invitations and codes lead"
    " there, no other name is answered, and with https cookies travel no other way.",
)
@click.option(
    "--proxy",
    callback=read_address,
    help="The address of the server in front, which alone may say who asks. With an https"
    " --public-url: this machine's own.",
)
@db_option
def serve_command(
    *, host: str, port: int, demo: bool, public_url: str, proxy: str | None, db: Path | None
) -> None:
    """Serve the pages. Only this machine can reach them unless you give --host.

    With --host or --public-url everyone logs in; fieldkit people add-lead makes the first who
    can. fieldkit setup NAME writes what a server that stands needs.

    Entries go to one file in your data folder, or to the one named by --db.
    """
    name = DEMO_LOG if demo else "fieldkit.db"
    with any_log(db, name) as (log, path):
        if demo:
            click.echo(load_demo(log, clock.now()))
        count = log.count()
    listening = _listen(host, port)
    if public_url:
        note(path, "served", clock.now(), public_url)
    https = public_url.startswith("https://")
    beyond = bool(public_url) or not is_loopback(host)
    app = make_app(
        path,
        listens_beyond=beyond,
        public_url=public_url,
        hosts=frozenset() if beyond else LOOPBACK_NAMES,
    )
    if https and proxy is None:
        proxy = "::1" if ":" in host else "127.0.0.1"
    server = server_on(
        listening,
        app,
        ident="fieldkit",
        threads=_ANSWERING,
        max_request_body_size=_LARGEST_BODY,
        **_believing(proxy),
    )
    for one in (signal.SIGINT, signal.SIGTERM):
        signal.signal(one, server.stop)
    click.echo(f"Log: {path} ({count} entries)")
    if beyond:
        click.echo("Everyone logs in. The first lead: fieldkit people add-lead NAME")
    if beyond and not https:
        click.echo(WITHOUT_HTTPS, err=True)
    # One line for each request that waits its turn would be most of the work of a busy moment.
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)
    warm()
    # What stands after warming up stays: the collector need not walk through it again and again.
    gc.collect()
    gc.freeze()
    sys.setswitchinterval(_TURN_S)
    shown = f"[{host}]" if ":" in host else host
    here = f"http://{shown}:{listening.getsockname()[1]}"
    if public_url:
        click.echo(f"Others open {public_url}, and nobody any other name.")
    click.echo(f"{'Answers at' if public_url else 'Open'} {here}"
               f"{'' if public_url else ' in a browser'}. Stop with Ctrl-C.")  # fmt: skip
    prepare_phones(app, click.echo)
    try:
        server.run()
    finally:
        server.close()
        app.extensions["joblog"].close()


def _listen(host: str, port: int) -> socket.socket:
    try:
        family = socket.AF_INET6 if ":" in host else socket.AF_INET
        return socket.create_server((host, port), family=family)
    except OSError as error:
        raise Stop(
            f"Cannot listen on {host} port {port}: {error.strerror}. Try another --port."
        ) from error


def _believing(proxy: str | None) -> dict[str, Any]:
    """The server in front that says who asks; what anybody else says of it is taken away."""
    headers = {"x-forwarded-for", "x-forwarded-proto"}
    return {"trusted_proxy": proxy, "trusted_proxy_headers": headers} if proxy else {}


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
