"""Giving waiting entries their place in the log, in the background and on demand.

One holder of the lease does it at a time, on any engine: a row with an expiry, so that a dead process is replaced by itself after a
few seconds. Doing it twice would do no harm either, because places are unique in the database.
"""

from __future__ import annotations

import logging
import threading
import uuid
from collections.abc import Callable
from typing import Final

from sqlalchemy.engine import Connection

from bailee.errors import Unavailable
from bailee.ledger.checkpoint import Checkpoint
from bailee.store import leases, log
from bailee.store.database import Database

LEASE_S: Final = 15
_log = logging.getLogger(__name__)


class Sequencer:
    """`sign` makes the signed note of a checkpoint; `clock` gives seconds since 1970."""

    def __init__(
        self, database: Database, origin: str, sign: Callable[[Checkpoint], str], clock: Callable[[], float]
    ) -> None:
        self._database = database
        self._origin = origin
        self._sign = sign
        self._clock = clock
        self._holder = uuid.uuid4().hex
        self._stop = threading.Event()
        self._thread: threading.Thread | None = None

    def integrate(self) -> int:
        """Integrate all that waits now; how many entries got a place. Works without the lease: reads may force it."""
        done = 0
        while count := self._database.write(self._once):
            done += count
        return done

    def start(self, every_s: float) -> None:
        """Integrate every `every_s` seconds in a thread of its own, while this process holds the lease."""
        self._thread = threading.Thread(target=self._run, args=(every_s,), name="sequencer", daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """Finish the round in progress and end the thread."""
        self._stop.set()
        if self._thread:
            self._thread.join()

    def _once(self, connection: Connection) -> int:
        return log.integrate(connection, self._origin, self._sign)

    def _run(self, every_s: float) -> None:
        while not self._stop.wait(every_s):
            try:
                if self._waiting() and self._leads():
                    self.integrate()
            except Unavailable as error:
                _log.warning("integration postponed", extra={"code": error.code})

    def _waiting(self) -> bool:
        with self._database.reading() as connection:
            return log.is_waiting(connection)

    def _leads(self) -> bool:
        now = int(self._clock())
        return self._database.write(lambda c: leases.take(c, "sequencer", self._holder, now, LEASE_S))
