"""So that nobody's haste is everybody's wait: how many requests one address, and one enrolled key, may send
in a while.

Token buckets (common practice, no source) in the memory of one process: forgotten with it, never stored,
never logged. They are wide: a week's statements after a week without a network, a dock that scans as fast as
hands can, a monitor that copies the log. An address is believed from the connection, or from a proxy that the
settings name; a key only once it has shown that it is one. A statement that merely names a key costs that key
nothing.

Requests are counted before they are answered, and what an answer cost is known afterwards: the processor time
of a key's answers is taken from its bucket too, and an organization that keeps half of the threads busy with
long ones is not given another.
"""

from __future__ import annotations

import ipaddress
import math
import threading
import time
from collections import OrderedDict
from collections.abc import Callable
from typing import Final

from flask import Flask, current_app, g, request

from bailee.config import Settings
from bailee.errors import Unavailable

_AT_ONCE: Final = 40
"""Seconds of the lasting rate that may come at once: 2,000 requests of one address, 800 of one key."""
_REMEMBERED: Final = 20_000
_BYTES_OF_ONE: Final = 65_536
"""So much of a body counts as a request of its own."""
_WORK: Final = 2
"""Processor time costs so many times the lasting rate: one key has half of a core, lasting."""
_LONG_S: Final = 1.0
"""Seconds after which an answer in progress is a long one."""
FREE: Final = frozenset({"log.live"})


class Buckets:
    """One bucket for each caller: it holds `rate` * 40 at most and fills by `rate` a second.

    `clock` gives seconds.
    """

    def __init__(self, rate: int, clock: Callable[[], float] = time.monotonic) -> None:
        self._rate = rate
        self._most = float(rate * _AT_ONCE)
        self._clock = clock
        self._lock = threading.Lock()
        self._found: OrderedDict[str, tuple[float, float]] = OrderedDict()

    def take(self, caller: str, cost: float = 1.0) -> int:
        """Take it: 0; or how many seconds to wait before there is enough, and nothing is taken."""
        if not self._rate:
            return 0
        cost, now = min(cost, self._most), self._clock()
        with self._lock:
            left, at = self._found.pop(caller, (self._most, now))
            left = min(self._most, left + (now - at) * self._rate)
            enough = left >= cost
            self._found[caller] = (left - cost if enough else left, now)
            if len(self._found) > _REMEMBERED:
                self._found.popitem(last=False)  # whoever was quiet for longest has a full bucket again
        return 0 if enough else math.ceil((cost - left) / self._rate)

    def owe(self, caller: str, work_s: float) -> None:
        """Take what so many seconds of processor time cost, though it be more than there is: at most another
        whole bucket.
        """
        now = self._clock()
        with self._lock:
            left, at = self._found.pop(caller, (self._most, now))
            left = min(self._most, left + (now - at) * self._rate)
            self._found[caller] = (max(-self._most, left - work_s * self._rate * _WORK), now)


class Busy:
    """Which organizations have answers in progress, and since when. At most `most` long ones each."""

    def __init__(self, most: int, clock: Callable[[], float] = time.monotonic) -> None:
        self._most, self._clock = most, clock
        self._lock = threading.Lock()
        self._since: dict[str, list[float]] = {}

    def begin(self, org: str) -> float | None:
        """What `end` wants.

        Or None, and nothing has begun, where the organization has enough long answers in progress.
        """
        now = self._clock()
        with self._lock:
            mine = self._since.setdefault(org, [])
            if sum(now - each > _LONG_S for each in mine) >= self._most:
                return None
            mine.append(now)
            return now

    def end(self, org: str, began: float) -> None:
        """It is answered."""
        with self._lock:
            mine = self._since[org]
            mine.remove(began)
            if not mine:
                del self._since[org]


class Limits:
    """The buckets of one process.

    `clock` gives seconds, `worked` the processor time of this thread, in seconds.
    """

    def __init__(
        self,
        settings: Settings,
        clock: Callable[[], float] = time.monotonic,
        worked: Callable[[], float] = time.thread_time,
    ) -> None:
        self._proxies = frozenset(settings.proxies)
        self._addresses = Buckets(settings.requests_per_address, clock)
        self._keys = Buckets(settings.requests_per_key, clock)
        self._busy = Busy(max(1, settings.threads // 2), clock) if settings.requests_per_key else None
        self._worked = worked

    def admit_request(self) -> None:
        """Count this request for the address it comes from. Raises `Unavailable` (`too-many-requests`)."""
        caller = self.caller(request.remote_addr or "", request.headers.getlist("X-Forwarded-For"))
        if caller and request.endpoint not in FREE:
            cost = 1 + (request.content_length or 0) / _BYTES_OF_ONE
            _require_no_wait(self._addresses.take(caller, cost), "address")

    def admit_statements(self, count: int) -> None:
        """Count each statement after the first of a request as a request of its own.

        Raises `Unavailable` (`too-many-requests`).
        """
        caller = self.caller(request.remote_addr or "", request.headers.getlist("X-Forwarded-For"))
        if caller and count > 1:
            _require_no_wait(self._addresses.take(caller, count - 1), "address")

    def admit_key(self, kid: str, org: str) -> None:
        """Count this request for the key that has shown who it is.

        Raises `Unavailable` (`too-many-requests`).
        """
        _require_no_wait(self._keys.take(kid), "key")
        if self._busy is not None:
            began = self._busy.begin(org)
            _require_no_wait(int(began is None), "organization")
            g.in_progress = (self, kid, org, began, self._worked())

    def answered(self, kid: str, org: str, began: float, worked: float) -> None:
        """Take what this answer cost from its key."""
        if self._busy is not None:
            self._busy.end(org, began)
            self._keys.owe(kid, self._worked() - worked)

    def caller(self, peer: str, forwarded: list[str]) -> str | None:
        """Whose bucket it is: of the peer, or of whom a proxy names last; a network of IPv6 counts as one.

        None: nobody's.
        """
        if peer in self._proxies:
            peer = ",".join(forwarded).rpartition(",")[2].strip()
        try:
            address = ipaddress.ip_address(peer)
        except ValueError:
            return None
        if isinstance(address, ipaddress.IPv6Address):
            if address.ipv4_mapped is None:
                return str(ipaddress.IPv6Network((int(address), 64), strict=False))
            address = address.ipv4_mapped
        return str(address)


def limits() -> Limits:
    """Those of the running application."""
    found = current_app.extensions["limits"]
    assert isinstance(found, Limits)
    return found


def install(app: Flask, settings: Settings) -> None:
    """Count every request before anything is done for it."""
    app.extensions["limits"] = Limits(settings)
    app.before_request(lambda: limits().admit_request())
    app.teardown_request(_answered)


def _answered(_error: BaseException | None) -> None:
    if found := g.pop("in_progress", None):
        kept, *told = found
        kept.answered(*told)


def _require_no_wait(seconds: int, whose: str) -> None:
    if seconds:
        raise Unavailable(
            f"Too many requests at once from this {whose}. Nothing of this one was recorded: send it again in"
            f" {seconds} s.",
            code="too-many-requests",
            retry_after_s=seconds,
        )
