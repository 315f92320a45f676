"""Many slow and silent connections, by real sockets on this machine: nobody else waits for them."""

from __future__ import annotations

import http.client
import socket
import threading
import time
from contextlib import ExitStack, contextmanager

import pytest

from fieldkit.web.listening import Server, server_on

HEAD = b"GET /%s HTTP/1.1\r\nHost: localhost\r\nX-Slow: "
BODY = b"POST / HTTP/1.1\r\nHost: localhost\r\nContent-Length: 1000000\r\n\r\n"


class Hurried(Server):
    """The same limits, small enough for a test."""

    head_s = 0.6
    idle_s = 0.6
    stalled_s = 0.6
    places = 40


def answering(environ, start_response):
    """Answers ``ok``, or 32 MB where they are asked for."""
    large = environ["PATH_INFO"] == "/large"
    start_response("200 OK", [("Content-Type", "text/plain")])
    return (b"x" * 65536 for _ in range(512)) if large else [b"ok"]


@contextmanager
def served(kind):
    """A server of a kind; the port that it listens on."""
    server = server_on(socket.create_server(("127.0.0.1", 0)), answering, kind, threads=1)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    try:
        yield int(server.effective_port)
    finally:
        while server.active_channels:  # their other ends are closed already
            time.sleep(0.02)
        server.stop()
        thread.join(timeout=10)
        assert not thread.is_alive()
        server.asyncore.close_all(server._map)


def connected(stack, port, sent=b""):
    """A connection that has sent so much."""
    one = stack.enter_context(socket.create_connection(("127.0.0.1", port), timeout=10))
    if sent:
        one.sendall(sent)
    return one


def received(one):
    """An answer of two letters: its head and its body may come in pieces."""
    found = b""
    while not found.endswith(b"\r\n\r\nok"):
        piece = one.recv(65536)
        assert piece, found
        found += piece
    return found


def asked(port, path="/"):
    """What an honest client is answered."""
    asking = http.client.HTTPConnection("127.0.0.1", port, timeout=10)
    asking.request("GET", path)
    body = asking.getresponse().read()
    asking.close()
    return body


def closed_while_dripping(one, drip, for_s):
    """Whether the server closes a connection that sends a little again and again."""
    one.setblocking(False)
    until = time.monotonic() + for_s
    while time.monotonic() < until:
        try:
            one.send(drip)
            if one.recv(65536) == b"":
                return True
        except BlockingIOError:
            pass
        except ConnectionError:
            return True
        time.sleep(0.05)
    return False


@pytest.mark.parametrize("begun", [b"", HEAD, BODY], ids=["silent", "head", "body"])
def test_six_hundred_slow_connections_keep_nobody_waiting(begun):
    """The limits are those that fieldkit serves with; they have not run out yet."""
    with ExitStack() as stack:
        port = stack.enter_context(served(Server))
        for _ in range(600):
            connected(stack, port, begun)
        assert [asked(port) for _ in range(20)] == [b"ok"] * 20


@pytest.mark.parametrize(
    ("begun", "drip"), [(HEAD, b"a"), (BODY, b"a"), (b"", b"\r\n")], ids=["head", "body", "lines"]
)
def test_a_connection_that_drips_is_closed(begun, drip):
    with ExitStack() as stack:
        port = stack.enter_context(served(Hurried))
        one = connected(stack, port, begun)
        assert closed_while_dripping(one, drip, 10)
        assert asked(port) == b"ok"


def test_a_silent_connection_and_one_that_was_answered_are_closed():
    with ExitStack() as stack:
        port = stack.enter_context(served(Hurried))
        silent, answered = connected(stack, port), connected(stack, port, HEAD + b"a\r\n\r\n")
        assert received(answered).endswith(b"ok")
        assert silent.recv(1) == b""
        assert answered.recv(1) == b""


def test_a_body_that_comes_steadily_is_taken_in():
    """A weak signal is no attack: 4 KB a second for three times what a head may take."""
    with ExitStack() as stack:
        port = stack.enter_context(served(Hurried))
        one = connected(stack, port, BODY.replace(b"1000000", b"8000"))
        for _ in range(20):
            one.sendall(b"a" * 400)
            time.sleep(0.1)
        assert received(one).startswith(b"HTTP/1.1 200 OK")


def test_a_reader_who_takes_nothing_holds_up_nobody():
    """The one answering thread is free again although 32 MB wait for their reader."""
    with ExitStack() as stack:
        port = stack.enter_context(served(Server))
        for _ in range(3):
            connected(stack, port, b"GET /large HTTP/1.1\r\nHost: localhost\r\n\r\n")
        assert asked(port) == b"ok"
