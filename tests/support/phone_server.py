"""A server in a process of its own, so that a test can stop it, kill it and start it again.

It is forked from a process that has imported the program and built the phones' kit, once for all
servers of a test run: a start takes a few hundredths of a second. That process is this file run as
a script. It reads an order a line, as JSON, and answers each with a line: ``{"start": [port,
database, what is unlike the usual]}`` with the new process's id, ``{"bury": id}`` when it is gone.
Unlike the usual: ``start_seconds``, ``newer`` for a kit with another version, ``listens_beyond``
for logins.
"""

from __future__ import annotations

import json
import logging
import os
import signal
import socket
import subprocess
import sys
from functools import cache
from pathlib import Path

#: How long the engine may take to start where its time is not what is tested. [s]
PATIENCE_SECONDS = 300


@cache
def mother() -> subprocess.Popen:
    """The process that servers are forked from; it ends, and they with it, when this one ends."""
    return subprocess.Popen(
        [sys.executable, __file__], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )


def order(**what) -> int:
    """Give the mother an order and wait until it is done."""
    mother().stdin.write(json.dumps(what) + "\n")
    mother().stdin.flush()
    return json.loads(mother().stdout.readline())


class PhoneServer:
    """The server, by its port: it comes back at the same address, over the same log."""

    def __init__(self, db: Path, port: int | None = None) -> None:
        self.db = db
        self.port = port or free_port()
        self.pid = 0

    @property
    def address(self) -> str:
        """Where it answers."""
        return f"http://127.0.0.1:{self.port}"

    def start(self, **unlike) -> None:
        """Start it; it answers when this returns."""
        self.pid = order(start=[self.port, str(self.db), unlike])

    def kill(self) -> None:
        """End it as a power cut does."""
        if self.pid:
            os.kill(self.pid, signal.SIGKILL)
            order(bury=self.pid)
            self.pid = 0

    def hang(self) -> None:
        """Let it take connections and never answer."""
        os.kill(self.pid, signal.SIGSTOP)

    def wake(self) -> None:
        """Let it go on."""
        os.kill(self.pid, signal.SIGCONT)


def free_port() -> int:
    """A port that nobody uses and that a browser does not refuse."""
    while True:
        with socket.socket() as found:
            found.bind(("127.0.0.1", 0))
            port = found.getsockname()[1]
        if port > 10100:  # the ports that browsers refuse lie below
            return port


def main() -> None:
    """Fork a server for each "start" until the orders end."""
    from compiled import compile_once

    from fieldkit.app import make_app

    compile_once()
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)
    app = make_app(None)
    for name in app.jinja_env.list_templates():
        app.jinja_env.get_template(name)
    built = app.extensions["phone_kit"]
    built.about()
    children = set()
    for line in sys.stdin:
        match json.loads(line):
            case {"start": [port, db, unlike]}:
                reading, writing = os.pipe()
                if (child := os.fork()) == 0:
                    serve(port, Path(db), unlike, built, writing)
                    os._exit(0)
                os.close(writing)
                assert os.read(reading, 1), "the server did not start"
                os.close(reading)
                children.add(child)
            case {"bury": child}:
                os.waitpid(child, 0)
                children.remove(child)
        sys.stdout.write(f"{child}\n")
        sys.stdout.flush()
    for child in children:
        os.kill(child, signal.SIGKILL)


def serve(port: int, db: Path, unlike: dict, built, ready: int) -> None:
    """Serve until killed; a byte on ``ready`` says that it answers."""
    from waitress.server import create_server

    from fieldkit.app import make_app
    from fieldkit.phone import kit

    kit.START_SECONDS = unlike.get("start_seconds", PATIENCE_SECONDS)
    app = make_app(db, listens_beyond=bool(unlike.get("listens_beyond")))
    if unlike.get("newer"):
        usual = kit.plain_paths
        kit.plain_paths = lambda: (*usual(), "/prices")
        app.extensions["phone_kit"].about()  # built before anybody waits for it
    else:
        app.extensions["phone_kit"] = built
    server = create_server(app, host="127.0.0.1", port=port, threads=4)
    os.write(ready, b"!")
    server.run()


if __name__ == "__main__":
    main()
