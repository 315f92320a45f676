"""A server in a process of its own, so that a test can stop it, kill it and start it again.

Run as a script: port, database, and JSON of what is unlike the usual
(``start_seconds``, ``newer`` for a kit with another version, ``listens_beyond`` for logins).
"""

from __future__ import annotations

import json
import logging
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path

#: How long the engine may take to start where its time is not what is tested. [s]
PATIENCE_SECONDS = 300


class PhoneServer:
    """The server, by its port: it comes back at the same address, over the same log."""

    def __init__(self, db: Path, port: int | None = None) -> None:
        self.db = db
        self.port = port or free_port()
        self.process: subprocess.Popen | None = None

    @property
    def address(self) -> str:
        """Where it answers."""
        return f"http://127.0.0.1:{self.port}"

    def start(self, **unlike) -> None:
        """Start it and wait until it answers."""
        arguments = [str(self.port), str(self.db), json.dumps(unlike)]
        self.process = subprocess.Popen([sys.executable, __file__, *arguments])
        for _ in range(1200):  # a busy machine takes its time
            with socket.socket() as knock:
                if knock.connect_ex(("127.0.0.1", self.port)) == 0:
                    return
            time.sleep(0.05)
        raise RuntimeError("the server did not start")

    def kill(self) -> None:
        """End it as a power cut does."""
        if self.process is not None:
            self.process.send_signal(signal.SIGCONT)
            self.process.kill()
            self.process.wait()
            self.process = None

    def hang(self) -> None:
        """Let it take connections and never answer."""
        self.process.send_signal(signal.SIGSTOP)

    def wake(self) -> None:
        """Let it go on."""
        self.process.send_signal(signal.SIGCONT)


def free_port() -> int:
    """A port that nobody uses and that a browser does not refuse."""
    while True:
        with socket.socket() as found:
            found.bind(("127.0.0.1", 0))
            port = found.getsockname()[1]
        if port > 10100:  # the ports that browsers refuse lie below
            return port


def main() -> None:
    """Serve until killed."""
    from waitress.server import create_server

    from fieldkit.app import make_app
    from fieldkit.phone import kit

    port, db, unlike = int(sys.argv[1]), Path(sys.argv[2]), json.loads(sys.argv[3])
    if unlike.get("newer"):
        usual = kit.plain_paths
        kit.plain_paths = lambda: (*usual(), "/prices")
    kit.START_SECONDS = unlike.get("start_seconds", PATIENCE_SECONDS)
    app = make_app(db, listens_beyond=bool(unlike.get("listens_beyond")))
    app.extensions["phone_kit"].about()  # built before anybody waits for it
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)
    create_server(app, host="127.0.0.1", port=port, threads=4).run()


if __name__ == "__main__":
    main()
