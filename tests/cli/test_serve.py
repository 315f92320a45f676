"""``fieldkit serve`` by its options: what it says of HTTPS, and whom it lets say who asks."""

from __future__ import annotations

import gc
import socket
import sys

import pytest
from click.testing import CliRunner

from fieldkit.cli import serve
from fieldkit.cli.main import main
from fieldkit.joblog import upkeep


@pytest.fixture
def served(tmp_path, monkeypatch):
    """Run the command as far as answering; what it said, and how it would have answered."""

    class Still:
        def __init__(self, listening, app, **settings):
            self.app, self.settings = app, settings
            with listening:
                pass

        def run(self):
            made.append(self)

        def close(self):
            pass

        def stop(self, *_):
            pass

    made: list[Still] = []
    monkeypatch.setattr(serve, "server_on", Still)
    monkeypatch.setattr(serve, "warm", lambda: None)
    monkeypatch.setattr(serve, "prepare_phones", lambda *_: None)
    monkeypatch.setattr(socket.socket, "getsockname", lambda _: ("", 8080))
    monkeypatch.setattr(sys, "setswitchinterval", lambda _: None)
    monkeypatch.setattr(gc, "freeze", lambda: None)

    def run(*words):
        command = ["serve", "--port", "0", "--db", str(tmp_path / "log.db"), *words]
        done = CliRunner().invoke(main, command, catch_exceptions=False)
        assert done.exit_code == 0, done.output
        return done, made[-1]

    return run


def test_without_https_it_says_what_phones_lack_and_three_ways_to_have_it(served):
    done, server = served("--host", "0.0.0.0")  # noqa: S104
    for way in ("secure context", "fieldkit setup NAME writes", "--tls internal", "phone export"):
        assert way in done.stderr
    assert "trusted_proxy" not in server.settings
    assert served()[0].stderr == ""  # on this machine alone nothing is lacking


def test_with_a_public_address_it_keeps_to_it(served, tmp_path):
    done, server = served("--public-url", "https://Crew.example.net/")
    assert done.stderr == ""
    assert "Others open https://crew.example.net" in done.stdout
    assert server.settings["trusted_proxy"] == "127.0.0.1"
    assert server.app.config["HOSTS"] == {"crew.example.net"}
    assert server.app.config["SESSION_COOKIE_SECURE"]
    assert upkeep.done(tmp_path / "log.db")["served"]["about"] == "https://crew.example.net"
    elsewhere = served("--public-url", "https://crew.example.net", "--proxy", "10.0.0.2")[1]
    assert elsewhere.settings["trusted_proxy"] == "10.0.0.2"
    assert "trusted_proxy" not in served("--public-url", "http://crew.example.net")[1].settings


@pytest.mark.parametrize(
    "words",
    [
        ["--public-url", "crew.example.net"],
        ["--public-url", "https://crew.example.net/jobs"],
        ["--public-url", "ftp://crew.example.net"],
        ["--public-url", "https://crew.example.net:99999"],
        ["--public-url", "https://ann@crew.example.net"],
        ["--proxy", "*"],
        ["--proxy", "10.0.0.0/8"],
    ],
)
def test_an_address_that_is_none_is_refused(tmp_path, words):
    done = CliRunner().invoke(main, ["serve", "--db", str(tmp_path / "log.db"), *words])
    assert done.exit_code == 2
    assert "Invalid value" in done.output
