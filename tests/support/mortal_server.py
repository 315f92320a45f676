"""A real server that is killed and started again a hundred times, without waiting for imports.

Run as a script (port, database): it reads orders from standard input. "start" starts the server
in a process of its own, "kill" ends it without warning.
"""

from __future__ import annotations

import logging
import os
import signal
import subprocess
import sys
from pathlib import Path


class MortalServer:
    """The server, by its port; ``start`` and ``kill`` take a few hundredths of a second."""

    def __init__(self, db: Path, port: int) -> None:
        command = [sys.executable, __file__, str(port), str(db)]
        self._mother = subprocess.Popen(
            command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )

    def start(self) -> None:
        """Start it; it answers when this returns."""
        self._order("start")

    def kill(self) -> None:
        """End it with SIGKILL."""
        self._order("kill")

    def close(self) -> None:
        """End all of it."""
        self._mother.stdin.close()
        self._mother.wait()
        self._mother.stdout.close()

    def _order(self, word: str) -> None:
        self._mother.stdin.write(f"{word}\n")
        self._mother.stdin.flush()
        assert self._mother.stdout.readline() == f"{word}\n"


def main() -> None:
    """Fork a server for each "start", and kill it for each "kill"."""
    from waitress.server import create_server

    from fieldkit.app import make_app

    port, db = int(sys.argv[1]), Path(sys.argv[2])
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)
    child = 0
    for word in sys.stdin:
        if word.strip() == "start":
            reading, writing = os.pipe()
            child = os.fork()
            if child == 0:
                server = create_server(make_app(db), host="127.0.0.1", port=port, threads=4)
                os.write(writing, b"!")
                server.run()
                os._exit(0)
            os.close(writing)
            os.read(reading, 1)
            os.close(reading)
        elif child:
            os.kill(child, signal.SIGKILL)
            os.waitpid(child, 0)
        sys.stdout.write(word)
        sys.stdout.flush()


if __name__ == "__main__":
    main()
