"""Giving waiting entries their place in the log and publishing the result, in the background and on demand.

One holder of the lease does it at a time, on any engine: a row with an expiry, so that a dead process is replaced by itself after a
few seconds. Doing it twice would do no harm either, because places are unique in the database.
"""

from __future__ import annotations

import logging
import threading
import uuid
from collections.abc import Callable
from typing import Final

from bailee.errors import BaileeError
from bailee.operations.cosigned import Cosigners
from bailee.operations.guard import Guard
from bailee.operations.publish import Publisher
from bailee.store import leases, tree
from bailee.store.database import Database

LEASE_S: Final = 15
_LEASE: Final = "sequencer"
_log = logging.getLogger(__name__)


class Sequencer:
    """`clock` gives seconds since 1970."""

    def __init__(
        self,
        database: Database,
        guard: Guard,
        publisher: Publisher,
        cosigners: Cosigners,
        clock: Callable[[], float],
    ) -> None:
        self._database = database
        self._guard = guard
        self._publisher = publisher
        self._cosigners = cosigners
        self._clock = clock
        self._holder = uuid.uuid4().hex
        self._stop = threading.Event()
        self._threads: list[threading.Thread] = []
        self._said = ""

    def integrate(self) -> int:
        """Integrate and publish all that waits now; how many entries got a place. Works without the lease.

        Raises `Unavailable` (`log-frozen`, `disk`) and `Broken`, as `Publisher.publish` does.
        """
        self._cosigners.ask_before_signing()
        with self._database.reading() as connection:
            self._guard.require(connection)
        done = 0
        while count := self._database.write(tree.integrate):
            done += count
        self._publisher.publish()
        return done

    def catch_up(self) -> None:
        """The same for a question that can be answered without: what stands in the way is logged, not raised."""
        try:
            self.integrate()
            self._said = ""
        except BaileeError as error:
            if error.sentence != self._said:  # once, not twice a second
                _log.error("%s", error.sentence)
            self._said = error.sentence

    def start(self, every_s: float) -> None:
        """Do it every `every_s` seconds in a thread of its own, while this process holds the lease; cosigners in another."""
        for name, work in (("sequencer", self._publish), ("cosigners", self._cosign)):
            thread = threading.Thread(target=self._run, args=(work, every_s), name=name, daemon=True)
            self._threads.append(thread)
            thread.start()

    def stop(self) -> None:
        """Finish the round in progress, end the threads, and leave the place to the next process at once."""
        self._stop.set()
        for thread in self._threads:
            thread.join()
        if self._threads:
            self._database.write(lambda c: leases.give_up(c, _LEASE, self._holder))

    def _run(self, work: Callable[[], object], every_s: float) -> None:
        while True:
            try:
                work()
            except BaileeError as error:
                _log.warning("round postponed: %s", error.sentence, extra={"code": error.code})
            if self._stop.wait(every_s):
                return

    def _cosign(self) -> None:
        if self._cosigners.is_due() and self._leads():
            self._cosigners.round()

    def _publish(self) -> None:
        with self._database.reading() as connection:
            head = tree.newest_head(connection)
            waiting = tree.is_waiting(connection) or self._guard.sentence(connection) is not None
        shown = self._publisher.published()
        if (waiting or (head and (shown is None or shown.size < head.size))) and self._leads():
            self.catch_up()

    def _leads(self) -> bool:
        now = int(self._clock())
        return self._database.write(lambda c: leases.take(c, _LEASE, self._holder, now, LEASE_S))
