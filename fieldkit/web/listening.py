"""The listening socket: a slow or silent connection is closed, and never keeps others out.

waitress has no types, so mypy is told not to mind its classes.
"""

from __future__ import annotations

import socket
import time
from collections.abc import Callable
from typing import Any

from waitress.adjustments import Adjustments
from waitress.channel import HTTPChannel
from waitress.server import TcpWSGIServer
from waitress.task import ThreadedTaskDispatcher


class Channel(HTTPChannel):  # type: ignore[misc]
    """One connection, which knows how long the request that comes in on it has taken."""

    began = 0.0
    taken = 0
    #: When something was last given out on it.
    given = 0.0

    def received(self, data: bytes) -> bool:
        """Take in what came, and remember when its request began."""
        before = self.request
        taken: bool = super().received(data)
        if self.request is not before or before is None:
            self.began, self.taken = time.time(), 0
        self.taken += len(data)
        return taken

    def write_soon(self, data: Any) -> int:
        """Take in a part of the answer from the thread that makes it."""
        self.given = time.time()
        return int(super().write_soon(data))

    def _flush_some(self, do_close: bool = True) -> bool:
        sent = bool(super()._flush_some(do_close=do_close))
        if sent:
            self.given = time.time()
        return sent

    def waits_since(self) -> float | None:
        """Since when nothing but the other end is waited for; None while an answer is made."""
        if self.requests:
            return None
        since = max(self.given, float(self.creation_time))
        coming = self.request is not None and not self.total_outbufs_len
        return max(since, self.began) if coming else since

    def overdue(self, now: float) -> bool:
        """Whether the other end has taken longer than the server's limits allow."""
        since, server = self.waits_since(), self.server
        if since is None:
            return False
        if self.total_outbufs_len:
            limit = server.stalled_s
        elif self.request is not None and self.request.headers_finished:
            limit = server.head_s + self.taken / server.slowest_bytes_per_s
        else:
            kept = self.request is None and self.given
            limit = server.idle_s if kept else server.head_s
        return bool(now - since > limit)


class Server(TcpWSGIServer):  # type: ignore[misc]
    """waitress with limits on time, and with room for whoever comes next.

    waitress itself closes only what is silent, so a connection that sends a byte now and then
    stays for ever, and at its limit it takes in nobody. Here the head of a request has so many
    seconds in all, its body a slowest speed; and where all places are taken, the connection that
    has been waited for longest gives up its own.
    """

    channel_class = Channel

    #: How long the head of a request may take, from its first byte or the connection. [s]
    head_s = 15.0
    #: A body may be this slow on average. [bytes/s]
    slowest_bytes_per_s = 400.0
    #: How long a connection is kept for a next request. [s]
    idle_s = 30.0
    #: How long an answer may wait for a reader that takes nothing of it. [s]
    stalled_s = 60.0
    #: Connections that are open at once.
    places = 500

    over = False

    def run(self) -> None:
        """Answer until ``stop``, or until no socket is left."""
        while self._map and not self.over:
            self.asyncore.loop(timeout=1.0, map=self._map, use_poll=True, count=1)
        self.task_dispatcher.shutdown()

    def stop(self, *_: object) -> None:
        """End ``run``; as a signal's handler, which breaks into nothing that holds a lock."""
        self.over = True
        self.pull_trigger()

    def maintenance(self, now: float) -> None:
        """Close what is overdue; it is waitress that asks, every ``cleanup_interval``."""
        for channel in self.active_channels.values():
            if channel.overdue(now):
                channel.will_close = True

    def handle_accept(self) -> None:
        """Take in a connection, in the place of the longest waited for where none is free."""
        open_now = [one for one in self.active_channels.values() if not one.will_close]
        if len(open_now) >= self.places:
            waiting = [(one.waits_since(), one) for one in open_now]
            waited = [(since, one) for since, one in waiting if since is not None]
            if waited:
                min(waited, key=lambda pair: pair[0])[1].will_close = True
        super().handle_accept()


def server_on(
    listening: socket.socket, app: Callable[..., Any], kind: type[Server] = Server, **settings: Any
) -> Server:
    """A server that answers on an open socket; ``settings`` are those of waitress."""
    adjusted = Adjustments(
        connection_limit=2 * kind.places,  # ours comes first
        cleanup_interval=min(5, kind.head_s),
        asyncore_use_poll=True,  # select() takes no more than 1,024 files
        # A reader who takes an answer slowly holds its file, not the thread that made it.
        outbuf_high_watermark=1 << 40,
        **settings,
    )
    dispatcher = ThreadedTaskDispatcher()
    dispatcher.set_thread_count(adjusted.threads)
    about = (listening.family, listening.type, listening.proto, listening.getsockname())
    return kind(
        app,
        map={},
        _sock=listening,
        dispatcher=dispatcher,
        adj=adjusted,
        sockinfo=about,
        bind_socket=False,
    )
