"""One running ledger: its parts, put together by `app.create_app`."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime

from bailee.config import Settings
from bailee.domain.moments import Moment
from bailee.ledger.checkpoint import format_vkey
from bailee.operations.books import Books
from bailee.operations.register import Register
from bailee.operations.sequence import Sequencer
from bailee.signing import notes
from bailee.signing.keys import SigningKey
from bailee.store.database import Database

Clock = Callable[[], datetime]


@dataclass(frozen=True, slots=True)
class Ledger:
    """What every request works with. `clock` is the only source of the present."""

    settings: Settings
    database: Database
    books: Books
    register: Register
    sequencer: Sequencer
    vkey: str
    clock: Clock

    def now(self) -> Moment:
        """The present, to the second, UTC."""
        return Moment(self.clock().astimezone(UTC).replace(microsecond=0), 0)


def assemble(settings: Settings, database: Database, log_key: SigningKey, clock: Clock) -> Ledger:
    """Put the parts together; starts nothing."""
    books = Books()
    register = Register(database, books, settings.origin, open_founding=settings.founding == "open")
    sequencer = Sequencer(
        database,
        settings.origin,
        lambda checkpoint: notes.sign(checkpoint, log_key),
        lambda: clock().timestamp(),
    )
    vkey = format_vkey(notes.verifier_key(settings.origin, log_key))
    return Ledger(settings, database, books, register, sequencer, vkey, clock)
