"""The server that reads requests: nobody gets a thread before his request is here whole, and nobody may take
for ever to send it.

waitress reads every connection in one loop and hands only what has arrived to its threads; so a half-sent
request costs a socket and no thread. What it lacks is here: a deadline for the whole request (its own begins
anew with every byte), a bound for one address, and room for the next one when every place is taken by
somebody who has sent nothing whole. The deadline grows with what arrives, so that a phone on a bad network
may send a week's statements (the way of Apache's mod_reqtimeout, `body=…,MinRate=…`; numbers: common
practice, no source).
"""

from __future__ import annotations

import time
from collections.abc import Callable
from functools import partial
from typing import Any, Final

from waitress import wasyncore
from waitress.channel import HTTPChannel
from waitress.server import BaseWSGIServer, create_server

from bailee.serving import memory

SLOWEST: Final = 4096
"""Bytes a second, lasting, at which a request may go on arriving after its deadline."""
LARGEST_HEADER: Final = 32_768
_AT_ONCE: Final = 64
"""Connections taken in one turn of the loop; fewer than what may stand open beyond `Connection.most`."""
_BEYOND: Final = 100
_TURN_S: Final = 1.0
_FINISHED_S: Final = 20
"""How long requests in progress may take when the service is stopped, and then their readers:"""
_TAKEN_S: Final = 5
_ALL_ANSWERS: Final = 2**28
"""Bytes that may wait for a slow reader, on disk beyond the first: more than any answer, so that no thread
waits for one."""


class Connection(HTTPChannel):
    """One connection of somebody."""

    most: int = 500
    """Connections of one process.

    Each is a file, and 1,024 of those are what a process may have where nobody set it.
    """
    most_of_one: int = 100
    """Of them from one address that is no proxy."""
    within_s: float = 30.0
    proxies: frozenset[str] = frozenset()
    clock: Callable[[], float] = staticmethod(time.monotonic)
    _begun: float | None = None
    _arrived: int = 0

    def __init__(self, server: BaseWSGIServer, sock: Any, addr: Any, adj: Any, map: Any = None) -> None:  # noqa: A002
        super().__init__(server, sock, addr, adj, map)
        self._since = self.clock()
        everybody: Any = server.active_channels
        found = [each for each in everybody.values() if not each.will_close]
        own = [each for each in found if each.addr[0] == addr[0]]
        if len(own) > self.most_of_one and addr[0] not in self.proxies:
            _close_the_quietest(own)
        elif len(found) > self.most:
            _close_the_quietest(found)

    def received(self, data: bytes) -> bool:
        """Take what has arrived, and note since when the request has been arriving."""
        if self._begun is None:
            self._begun, self._arrived = self.clock(), 0
        self._arrived += len(data)
        taken = super().received(data)
        if self.request is None:
            self._begun = None
        return taken

    def readable(self) -> bool:
        """Asked in every turn of the loop, once a second at least: whoever is late is closed."""
        if self._begun is not None and not self.requests and self._is_late(self._begun):
            self.will_close = True
        return super().readable()

    def _is_late(self, begun: float) -> bool:
        return self.clock() - begun > self.within_s + self._arrived / SLOWEST

    @property
    def is_quiet(self) -> bool:
        """Nothing whole has come from it, and nothing is on the way to it."""
        return not self.requests and not self.total_outbufs_len

    @property
    def since(self) -> float:
        """Since when it has been waited for."""
        return self._since if self._begun is None else self._begun


class Server:
    """Listens `where` (`listen="127.0.0.1:8765"`, or `sockets=[…]`) from the start.

    Raises `OSError`, `ValueError` when it cannot.
    """

    def __init__(
        self,
        application: Any,
        *,
        threads: int,
        largest_body: int,
        within_s: float = 30,
        proxies: tuple[str, ...] = (),
        **where: Any,
    ) -> None:
        class OfThisServer(Connection):
            """With its settings."""

        OfThisServer.within_s, OfThisServer.proxies = within_s, frozenset(proxies)
        self._all: dict[int, Any] = {}
        memory.share_one_store()
        self._waitress = create_server(
            application,
            map=self._all,
            threads=threads,
            ident=None,
            channel_timeout=round(within_s),
            cleanup_interval=1,
            connection_limit=Connection.most + _BEYOND,
            max_request_header_size=LARGEST_HEADER,
            max_request_body_size=largest_body,
            outbuf_high_watermark=_ALL_ANSWERS,
            clear_untrusted_proxy_headers=False,  # `api.rate_limits` knows which proxy to believe
            **where,
        )
        doors = [each for each in self._all.values() if isinstance(each, BaseWSGIServer)]
        self.addresses = [each.getsockname() for each in doors]
        for each in doors:
            each.channel_class = OfThisServer
            setattr(each, "handle_accept", partial(_take_who_waits, each))  # noqa: B010 - of this door, not of its class

    @classmethod
    def of(cls, app: Any, **where: Any) -> Server:
        """For the application of a ledger (`bailee.app`), as its settings say."""
        settings = app.extensions["ledger"].settings
        return cls(
            app, threads=settings.threads, within_s=settings.request_within_s, proxies=settings.proxies,
            largest_body=app.config["MAX_CONTENT_LENGTH"], **where,
        )  # fmt: skip

    def run(self, each_turn: Callable[[], None] = lambda: None) -> None:
        """Serve until SystemExit or KeyboardInterrupt, of a signal or of `each_turn` (once a second at
        least); then finish what has begun.
        """
        memory.look_for_waste()
        try:
            while True:
                each_turn()
                self._turn(_TURN_S)
        except (SystemExit, KeyboardInterrupt):
            self._waitress.task_dispatcher.shutdown(timeout=_FINISHED_S)
            until = time.monotonic() + _TAKEN_S
            while any(getattr(each, "total_outbufs_len", 0) for each in self._all.values()):
                if time.monotonic() > until:
                    break
                self._turn(0.1)
        finally:
            wasyncore.close_all(self._all)

    def _turn(self, seconds: float) -> None:
        wasyncore.loop(timeout=seconds, use_poll=True, map=self._all, count=1)


def _take_who_waits(door: Any) -> None:
    """One a turn is waitress's way: whoever stands behind a crowd then waits for as many turns, each as long
    as all connections are many.
    """
    for _ in range(_AT_ONCE):
        before = len(door.active_channels)
        BaseWSGIServer.handle_accept(door)
        if len(door.active_channels) == before:
            break


def _close_the_quietest(found: list[Connection]) -> None:
    quiet = [each for each in found if each.is_quiet]
    if quiet:
        min(quiet, key=lambda each: each.since).will_close = True
