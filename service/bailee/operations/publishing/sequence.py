"""Giving waiting entries their place in the log and publishing the result, in the background and on demand.

On each host one process at a time has the home's lock, and of all hosts one leads (`store.leases`). A round
is: follow what was signed last, then, if this process leads, give places, sign and show, group by group.
Whatever goes wrong ends the round and not the thread: it is logged once, counted, and tried again.

How far publishing is behind, by a clock that nobody sets: this process's own.
"""

from __future__ import annotations

import logging
import threading
import time
from collections import deque
from collections.abc import Callable
from contextlib import ExitStack, suppress
from typing import Final

from sqlalchemy.engine import Connection

from bailee.errors import BaileeError, Unavailable
from bailee.frozen import frozen
from bailee.operations import in_use
from bailee.operations.publishing.cosignatures import Cosigners
from bailee.operations.publishing.freeze import Guard
from bailee.operations.publishing.publish import Publisher
from bailee.store import leases, tree
from bailee.store.database import Database
from bailee.store.leases import Holder, Lead
from bailee.store.tree import Extent


class Lag:
    """What was recorded at each look and is not published yet, the oldest first."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._open: deque[tuple[float, Extent]] = deque()
        self._lock = threading.Lock()

    def look(self, connection: Connection, published: int) -> None:
        """Note what is recorded now and what of it the first `published` entries cover.

        Once in every round.
        """
        with self._lock:
            before = [extent for _, extent in self._open]
        done = 0  # asked without the lock: whoever wants to know the seconds must not wait for the database
        while done < len(before) and tree.is_under(connection, before[done], published):
            done += 1
        now = tree.extent(connection)
        newest = before[-1] if done < len(before) else None
        is_new = now != newest and not tree.is_under(connection, now, published)
        with self._lock:
            for _ in range(done):
                self._open.popleft()
            if is_new:
                self._open.append((self._clock(), now))

    @property
    def seconds(self) -> float:
        """Since when the oldest of it has been here, to the round; 0 when all is published.

        Grows when nobody looks any more.
        """
        with self._lock:
            return self._clock() - self._open[0][0] if self._open else 0.0


PATIENCE_S: Final = 3.0
"""How long a question waits for its entries to be published."""
_ROW_COUNTS: Final = 3
"""Leases for which a host counts after its last sign of life."""
_LOOK_AGAIN_S: Final = 0.02
_SAY_AGAIN_S: Final = 600.0
"""After that a trouble that lasts is logged again."""
_log = logging.getLogger(__name__)


@frozen
class State:
    """How publishing goes in this process.

    `unpublished_s`: how long the oldest entry has waited that is under no checkpoint shown here. `failures`:
    rounds that failed since the start. `trouble`: why nothing is published, in a sentence that anybody may
    read; None when nothing stands in the way.
    """

    leads: bool
    unpublished_s: float
    failures: int
    trouble: str | None


class Sequencer:
    """`me` is this process; `lease_ms` is how long it leads without a sign of life."""

    def __init__(
        self,
        database: Database,
        guard: Guard,
        publisher: Publisher,
        cosigners: Cosigners,
        me: Holder,
        lease_ms: int,
        patience_s: float = PATIENCE_S,
    ) -> None:
        self._database = database
        self._guard = guard
        self._publisher = publisher
        self._cosigners = cosigners
        self._me = me
        self._lease_ms = lease_ms
        self._patience_s = patience_s
        self._lead: Lead | None = None
        self._heard: Lead | None = None
        self._lag = Lag()
        self._failures = self._rounds = 0
        self._troubles: dict[str, dict[str, float]] = {}
        self._trouble: str | None = None
        self._is_abreast = False
        self._next_beat = self._renew_at = 0.0
        self._stop = threading.Event()
        self._wake = threading.Event()
        self._threads: list[threading.Thread] = []
        self._served = ExitStack()

    def state(self) -> State:
        """How publishing goes; asks nobody and waits for nothing."""
        return State(self._lead is not None, self._lag.seconds, self._failures, self._trouble)

    def is_abreast(self, connection: Connection) -> bool:
        """Whether this host, since it was started or cut off, has shown what was signed last.

        Before that it shows its own old checkpoint, and a device that has seen the newer one would believe
        that entries were taken away.
        """
        if not self._is_abreast:
            shown = self._publisher.published()
            self._is_abreast = (shown.size if shown else 0) >= tree.signed_size(connection)
        return self._is_abreast

    def require_current(self, most_s: float) -> None:
        """Raise `Unavailable` (`publication-behind`) when an entry has waited longer than that for its
        checkpoint; 0: never.

        An acknowledged entry that nobody can check yet is a promise. Devices keep what they signed, so
        nothing is lost by giving no more.
        """
        behind_s = self._lag.seconds
        if most_s and behind_s > most_s:
            raise Unavailable(
                f"Nothing was published for {behind_s / 60:.0f} minutes, so nothing more is recorded. What"
                " you signed is safe on your device: send it later, and call the operator.",
                code="publication-behind",
                oldest_unpublished_s=round(behind_s),
            )

    def integrate(self) -> int:
        """Integrate and publish all that waits now; how many entries got a place.

        Raises `Unavailable` (`log-frozen`, `disk`, `busy`, `not-leading`, `two-hosts`, `not-cosigned`) and
        `Broken`, as `Publisher.publish` does.
        """
        done = self._round(self._patience_s)
        if done is None:
            raise leases.lost()
        return done

    def catch_up(self) -> None:
        """See to it that what is recorded now is under a checkpoint, for a question that is answered in any
        case.

        Waits for it no longer than `patience_s`; what stands in the way is logged, not raised.
        """
        if not self._threads:
            self._attempt("sequencer", self.integrate)
            return
        until, rounds = time.monotonic() + self._patience_s, self._rounds
        with self._database.reading() as connection:
            now = tree.extent(connection)
        while not self._is_signed(now) and time.monotonic() < until:
            if self._trouble and self._rounds > rounds + 1:  # a whole round came to nothing
                return
            self._wake.set()
            self._stop.wait(_LOOK_AGAIN_S)

    def start(self, every_s: float) -> None:
        """Do it every `every_s` seconds in a thread of its own; cosigners in another.

        Raises `Unavailable` (`ledger-in-use`) while the operator changes what lies under it.
        """
        self._served.enter_context(in_use.served(self._publisher.places.home))
        for name, work in (("sequencer", self._publish), ("cosigners", self._cosign)):
            thread = threading.Thread(target=self._run, args=(name, work, every_s), name=name, daemon=True)
            self._threads.append(thread)
            thread.start()

    def stop(self) -> None:
        """Finish the round in progress, end the threads, and leave the lead to the next process at once."""
        self._stop.set()
        self._wake.set()
        for thread in self._threads:
            thread.join()
        self._leave()
        self._served.close()

    def _run(self, name: str, work: Callable[[], object], every_s: float) -> None:
        woken = self._wake if name == "sequencer" else self._stop
        while not self._stop.is_set():
            self._attempt(name, work)
            if woken.wait(every_s) and not self._stop.is_set():
                woken.clear()

    def _attempt(self, name: str, work: Callable[[], object]) -> None:
        """Do it; what goes wrong is logged once, then every ten minutes, and ends nothing.

        False of `work`: it was another's turn.
        """
        known = self._troubles.setdefault(name, {})
        try:
            went_on = work() is not False
        # Whatever it is: the next round may do better, and nobody else would begin one.
        except Exception as error:  # noqa: BLE001
            ours = isinstance(error, BaileeError)
            said = error.sentence if isinstance(error, BaileeError) else f"unforeseen {type(error).__name__}"
            self._failures += 1
            now = time.monotonic()
            if said not in known or now >= known[said] + _SAY_AGAIN_S:
                _log.error("%s: %s", name, said, exc_info=None if ours else error)
                known[said] = now
            if name == "sequencer":
                self._trouble, self._is_abreast = _for_everybody(error), False
        else:
            if went_on and known:
                _log.warning("%s: goes on", name)
                known.clear()
            if went_on and name == "sequencer":
                self._trouble = None
        if name == "sequencer":
            self._rounds += 1

    def _publish(self) -> bool:
        """Whether this process knows that all is well: it published, followed, or has nothing to do."""
        with self._database.reading() as connection:
            shown = self._publisher.published()
            self._lag.look(connection, shown.size if shown else 0)
            due = tree.is_waiting(connection) or self._publisher.is_behind(connection)
        if due:
            before = self._publisher.shown()
            try:
                done = self._round(0)
            except Unavailable as error:
                if error.code not in ("busy", leases.CODE):  # another is at it
                    raise
                done = None
            return done is not None or self._publisher.shown() != before
        self._beat()
        with self._database.reading() as connection:
            self._guard.require(connection)
            self._require_witness(connection)
        return True

    def _round(self, patience_s: float) -> int | None:
        """How many entries got their place; None when it is another's turn."""
        self._cosigners.ask_before_signing()
        with self._publisher.alone(patience_s) as alone:
            try:
                self._beat()
                with self._database.reading() as connection:
                    self._guard.require(connection)
                lead = self._take(alone=alone)
                if lead is not None:
                    return self._advance(lead)
                if alone:
                    self._publisher.follow(None, self._beat)
            except Exception:
                self._leave()  # to whoever can
                raise
            return None

    def _advance(self, lead: Lead) -> int:
        def pulse() -> None:
            self._beat()
            self._renew(lead)

        self._publisher.follow(lead, pulse)  # nobody goes on who does not know where the log stands
        with self._database.reading() as connection:
            self._require_witness(connection)
        if lead != self._heard:
            self._cosigners.hear()
            self._heard = lead
        done, count = 0, tree.GROUP
        while count == tree.GROUP:
            count = self._database.write(lambda connection: tree.integrate(connection, lead))
            self._publisher.publish(lead, self._cosigners.collect, pulse)
            done += count
        return done

    def _renew(self, lead: Lead) -> None:
        """Before a third of the lease is over."""
        if time.monotonic() >= self._renew_at and self._take(alone=False) != lead:
            raise leases.lost()

    def _take(self, *, alone: bool) -> Lead | None:
        self._renew_at = time.monotonic() + self._lease_ms / 3000
        self._lead = self._database.write(
            lambda connection: leases.take(connection, self._me, self._lease_ms, alone=alone)
        )
        return self._lead

    def _leave(self) -> None:
        if self._lead is not None:
            self._lead = None
            with suppress(Exception):  # then it runs out
                self._database.write(lambda connection: leases.leave(connection, self._me))

    def _beat(self) -> None:
        """Let other hosts know of this one, once in a lease; a SQLite file has none."""
        if not self._database.is_sqlite and time.monotonic() >= self._next_beat:
            counts_ms = _ROW_COUNTS * self._lease_ms
            self._database.write(lambda connection: leases.beat(connection, self._me.host, counts_ms))
            self._next_beat = time.monotonic() + self._lease_ms / 1000

    def _require_witness(self, connection: Connection) -> None:
        """Two hosts cannot tell by themselves whether one of them has an old copy of the
        database before it.
        """
        if self._cosigners.required or self._database.is_sqlite:
            return
        if others := leases.others(connection, self._me.host):
            raise Unavailable(
                f"{others + 1} hosts serve this log, or did until a moment ago, and no cosigner is required:"
                " nothing new is signed or published, because after a failover no one outside would notice a"
                " second history. Set `cosigners_required` on every host, or stop all but one; a host that"
                f" ended is forgotten after {_ROW_COUNTS * self._lease_ms / 1000:g} s.",
                code="two-hosts",
                hosts=others + 1,
            )

    def _is_signed(self, past: tree.Extent) -> bool:
        with self._database.reading() as connection:
            return tree.is_under(connection, past, tree.signed_size(connection))

    def _cosign(self) -> None:
        if not self._cosigners.is_due():
            return
        with self._database.reading() as connection:
            mine = leases.is_free(connection, self._me)
        if mine:
            self._cosigners.round()


def _for_everybody(error: Exception) -> str:
    """Why nothing is published, without what is the operator's business: folders, and what nobody foresaw."""
    if isinstance(error, Unavailable) and error.code != "disk":
        return error.sentence
    if isinstance(error, Unavailable):
        return "A disk of the service is full, or cannot be written."
    return "Publishing fails; the service's own log shows why."
