"""One running ledger: its parts, put together by `app.create_app`."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import UTC, datetime

from bailee.config import RESTORED_FILE, Settings
from bailee.disk.machine import host_of
from bailee.disk.note_file import NoteFile
from bailee.domain.moments import Moment
from bailee.frozen import frozen
from bailee.ledger.checkpoint import Checkpoint, VerifierKey, format_vkey
from bailee.ledger.ends import Ends
from bailee.operations.publishing.cosignatures import Cosigners, configured, get, post
from bailee.operations.publishing.freeze import Guard
from bailee.operations.publishing.publish import Places, Publisher
from bailee.operations.publishing.sequence import Sequencer
from bailee.operations.register import Register
from bailee.operations.snapshots import Books
from bailee.signing import notes
from bailee.signing.keys import LogKey
from bailee.store.database import Database
from bailee.store.leases import Holder

Clock = Callable[[], datetime]


@frozen
class Ledger:
    """What every request works with.

    `clock` is the only source of the present; `sign_ends` says where chains end, in the log's name.
    """

    settings: Settings
    database: Database
    books: Books
    register: Register
    guard: Guard
    publisher: Publisher
    cosigners: Cosigners
    sequencer: Sequencer
    vkey: str
    sign_ends: Callable[[Ends], str]
    clock: Clock

    def now(self) -> Moment:
        """The present, to the second, UTC."""
        return Moment(self.clock().astimezone(UTC).replace(microsecond=0), 0)

    def instant(self) -> Moment:
        """The present to the millisecond, UTC, as finely as entries are recorded: a check is judged then and
        can be replayed.
        """
        now = self.clock().astimezone(UTC)
        return Moment(now.replace(microsecond=now.microsecond // 1000 * 1000), 0)


def assemble(settings: Settings, database: Database, log_key: LogKey, clock: Clock) -> Ledger:
    """Put the parts together; starts nothing."""
    public = notes.verifier_key(settings.origin, log_key)

    def sign(checkpoint: Checkpoint) -> str:
        return notes.sign(checkpoint, log_key)

    def sign_ends(ends: Ends) -> str:
        return notes.sign_ends(ends, log_key)

    def seconds() -> float:
        return clock().timestamp()

    others = configured(settings.cosigners, settings.origin)
    guard = guard_of(settings, public)
    me = Holder(uuid.uuid4().hex, host_of(settings.home))
    publisher = Publisher(database, guard, places_of(settings), public, sign, me)
    cosigners = Cosigners(
        database,
        guard,
        publisher,
        others,
        sign,
        settings.origin,
        seconds,
        post,
        get,
        settings.cosigners_required,
    )
    books = Books()
    sequencer = Sequencer(database, guard, publisher, cosigners, me, settings.lease_ms)
    register = Register(
        database,
        guard,
        books,
        lambda: sequencer.require_current(settings.max_unpublished_s),
        settings.origin,
        open_founding=settings.founding == "open",
        own_kid=log_key.kid,
    )
    return Ledger(
        settings,
        database,
        books,
        register,
        guard,
        publisher,
        cosigners,
        sequencer,
        format_vkey(public),
        sign_ends,
        clock,
    )


def guard_of(settings: Settings, log_key: VerifierKey) -> Guard:
    """The guard of a home."""
    high_water = NoteFile(settings.high_water_file)
    home = settings.home
    return Guard(
        high_water, places_of(settings).checkpoint, log_key, home / "frozen.json", home / RESTORED_FILE
    )


def places_of(settings: Settings) -> Places:
    """Where the files of a home lie."""
    return Places(settings.tiles, settings.entry_tiles, settings.home)
