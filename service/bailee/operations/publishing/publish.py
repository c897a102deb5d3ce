"""Publishing: from a tree head in the database to a signed checkpoint that anybody can fetch.

`Publisher.publish` does it in the order in which things become true, and may be repeated at any point:
everything before the signature is a pure function of the entries, and the signature of a tree head is always
the same one (RFC 8032 5.1.6). Nothing is signed that was not read back from the disk and hashed again, and
nothing is shown that the high-water file does not hold. One process signs, the one that leads; every host
shows, by `Publisher.follow`: what was signed, wherever, goes into its own tiles and its own high-water file
first.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable, Iterator
from contextlib import AbstractContextManager, contextmanager, nullcontext, suppress
from pathlib import Path
from typing import Final

from sqlalchemy.engine import Connection

from bailee.disk import durable, replacing, tile_files
from bailee.disk.tile_files import TileFiles, TreeOnDisk
from bailee.errors import BaileeError, Broken, Unavailable
from bailee.frozen import frozen
from bailee.ledger import entry as entries
from bailee.ledger import merkle, proof
from bailee.ledger.checkpoint import (
    Checkpoint,
    NoteSignature,
    SignedNote,
    VerifierKey,
    parse,
    print_note,
    read_note,
)
from bailee.operations.publishing.freeze import Guard
from bailee.rules.remedies import act
from bailee.signing import notes
from bailee.store import leases, log, tree
from bailee.store.database import Database
from bailee.store.leases import Holder, Lead
from bailee.store.tree import TreeHead
from bailee.verify.authorship import Steps, unseen

_MOMENT_S: Final = 1.0
Cosign = Callable[[str], str]
"""Makes of the log's note one with as many cosignatures as are required.

Raises `Unavailable` when they cannot be had.
"""
Pulse = Callable[[], None]
"""A sign of life, asked for after every file of a long piece of work.

Raises `Unavailable` ("not-leading") when it came too late.
"""


@frozen
class Places:
    """Where things lie.

    `public` may be served by any web server as it is; `private` holds what people said.
    """

    public: Path
    private: Path
    home: Path

    @property
    def lock(self) -> Path:
        """What one process of this home has at a time, while it publishes."""
        return self.home / "publishing.lock"

    @property
    def checkpoint(self) -> Path:
        """The newest published checkpoint."""
        return self.public / "checkpoint"


class Publisher:
    """`sign` makes the signed note of a checkpoint with the log's key; `me` is this process.

    `watch` is entered for every writing of tiles, and told how far it has come: the first one takes long.
    """

    def __init__(
        self,
        database: Database,
        guard: Guard,
        places: Places,
        log_key: VerifierKey,
        sign: Callable[[Checkpoint], str],
        me: Holder,
    ) -> None:
        self.places = places
        self.watch: Callable[[], AbstractContextManager[Steps]] = lambda: nullcontext(unseen)
        self._database = database
        self._guard = guard
        self._log_key = log_key
        self._sign = sign
        self._me = me
        self._tree = TileFiles(places.public)
        self._texts = TileFiles(places.private)
        self._thread = threading.Lock()

    @contextmanager
    def alone(self, patience_s: float | None = None) -> Iterator[bool]:
        """Keep the other threads of this process out, and the other processes of this home: whether these let
        go within `patience_s`.

        Raises `Unavailable` ("busy") when a thread of this process does not.
        """
        if not self._thread.acquire(timeout=-1 if patience_s is None else patience_s):
            raise Unavailable("This process is publishing already: ask again in a moment.", code="busy")
        try:
            with durable.alone(self.places.lock, patience_s) as got:
                yield got
        finally:
            self._thread.release()

    def publish(self, lead: Lead, cosign: Cosign, pulse: Pulse) -> bool:
        """Sign and show the newest tree head; whether there was anything to do.

        Only `alone`, and after `follow`.

        Raises `Unavailable` (`log-frozen` when the database may not go on, `disk` when files cannot be
        written, `not-leading`, and what `cosign` raises) and `Broken` (`read-back`, or a proof that does not
        hold): then nothing new is shown.
        """
        with self._database.reading() as connection:
            mark = self._guard.require(connection)
            head = tree.newest_head(connection)
        shown = self.published()
        if head is None or (shown and shown.size >= head.size and head.note is not None):
            return False
        old = shown.size if shown else 0
        self._lay_out(old, head, mark, pulse)
        note = cosign(self.sign(head))
        self._require(lead)
        # A crash here leaves a signature that nobody has seen. From the next line on it counts for ever.
        if mark is None or mark.size < head.size:
            self.mark(note)
        # A crash here leaves it in the high-water file only: the next round makes the very same note again.
        note = self.keep(head, note, lead)
        self.announce(note, lead)
        self._tidy(old, head.size)
        return True

    def follow(self, lead: Lead | None, pulse: Pulse) -> bool:
        """Show what was signed last, on whichever host; whether there was anything to do. Only `alone`.

        It goes into this home's own high-water file before it is shown, so that this host notices an old copy
        of the database as well as the one that signed. Raises what `publish` raises.
        """
        with self._database.reading() as connection:
            mark = self._guard.require(connection)
            note = tree.newest_note(connection)
        shown = self.published()
        if note is None or note == self.shown():
            return False
        signed = notes.open_checkpoint(note, [self._log_key])
        if shown and shown.size > signed.size:
            return False
        old = shown.size if shown else 0
        if old < signed.size:
            self._lay_out(old, TreeHead(signed.size, signed.root, note), mark, pulse)
        if mark is None or mark.size < signed.size:
            self.mark(note)
        self.announce(note, lead)
        self._tidy(old, signed.size)
        return True

    def is_behind(self, connection: Connection) -> bool:
        """Whether there is anything to follow or to publish."""
        head, shown = tree.newest_head(connection), self.published()
        if head is None:
            return False
        return (
            shown is None or shown.size < head.size or (shown.size == head.size and head.note != self.shown())
        )

    def write_tiles(self, old: int, new: int, pulse: Pulse = lambda: None) -> None:
        """Write every hash tile and entry tile that changed."""
        with self._database.reading() as connection, self.watch() as steps:
            for level, index, width, data in _tiles(connection, old, new, steps):
                (self._texts if level is None else self._tree).write(level, index, width, data)
                pulse()

    def write_again(self) -> None:
        """Write every tile of the newest tree head anew, whatever is there."""
        with self.alone():
            with self._database.reading() as connection:
                size = tree.size(connection)
            self.write_tiles(0, size)

    def read_back(self, old: int, head: TreeHead, mark: Checkpoint | None) -> None:
        """Hash again what is on disk: it must give the root of the tree head, and continue what was signed
        before.
        """
        tile_files.require_derived(self._tree, self._texts, old, head.size)
        on_disk = TreeOnDisk(self._tree, head.size)
        if merkle.root(on_disk, head.size) != head.root:
            raise Broken(
                "The tiles on disk do not hash to the tree in the database: nothing is signed. Check the"
                " ledger.",
                code="read-back",
                acts=[act("check_ledger")],
            )
        if mark is not None and mark.size <= head.size:
            path = merkle.consistency_path(on_disk, mark.size, head.size)
            proof.check_consistency(mark.size, head.size, path, mark.root, head.root)

    def sign(self, head: TreeHead) -> str:
        """The signed note of the tree head: always the same one."""
        return head.note or self._sign(Checkpoint(self._log_key.name, head.size, head.root))

    def mark(self, note: str) -> None:
        """Add the note to the high-water file."""
        self._guard.high_water.append(note)

    def keep(self, head: TreeHead, note: str, lead: Lead) -> str:
        """Keep the note beside the tree head; the note that is kept there."""
        if head.note is not None:
            return head.note
        cosigned = _cosignatures(read_note(note))
        return self._database.write(
            lambda connection: tree.keep_first_note(connection, lead, head.size, note, cosigned)
        )

    def announce(self, note: str, lead: Lead | None = None) -> bool:
        """Show the checkpoint to everybody; whether it is shown.

        Last of all: whoever reads it finds every tile it needs.

        Never in place of a larger one. Of the processes of a host the one that leads shows, and while another
        host leads, the one that is `alone`; who was stopped on the way here, and wakes when another has taken
        over, finds its file gone.
        """
        size = parse(read_note(note).text).size

        def may() -> bool:
            shown = self.published()
            if shown is not None and shown.size > size:
                return False
            with self._database.reading() as connection:
                if lead is None:
                    return not leases.leads_beside(connection, self._me)
                return leases.holds(connection, lead)

        if lead is not None:
            durable.disarm(self.places.checkpoint)
        return durable.write(self.places.checkpoint, note.encode(), replacing.PUBLIC, may)

    def published(self) -> Checkpoint | None:
        """The checkpoint that is shown now."""
        return _published(self.places, self._log_key)

    def shown(self) -> str | None:
        """The note that is shown now, as it is on disk."""
        return _shown(self.places)

    def add_signatures(self, size: int, more: Iterable[NoteSignature]) -> None:
        """Add cosignatures, verified by the caller, to the note of this size; shown when it is the newest, at
        once or in the next round.

        A newer line of a key replaces its older one.
        """
        found = tuple(more)
        note = self._database.write(lambda connection: _with_signatures(connection, size, found))
        with self.alone(_MOMENT_S) as alone:
            shown = self.published()
            if note and alone and shown and shown.size == size:
                self.announce(note)

    def tile(self, level: int | None, index: int, width: int) -> bytes | None:
        """A published hash tile, or (level None) entry tile; None when there is none."""
        return (self._texts if level is None else self._tree).read(level, index, width)

    def _tidy(self, old: int, new: int) -> None:
        """Drop partial tiles that nobody needs: a full one is there.

        Of entries, which only we and monitors read, older ones.
        """
        for level, index, width in tile_files.changed(old, new):
            full = (
                [index] if width == merkle.TILE_WIDTH else [index - 1] if index else []
            )  # the one before: after a crash
            with suppress(OSError):
                for each in full:
                    self._tree.drop_partials(level, each)
                if level == 0:
                    self._texts.drop_partials(None, index, below=width)
                    for each in full:
                        self._texts.drop_partials(None, each)

    def _lay_out(self, old: int, head: TreeHead, mark: Checkpoint | None, pulse: Pulse) -> None:
        """Bring the tiles of a tree head onto the disk, and read them back."""
        # Until the signature, a crash leaves files that nobody was told of; the same files are written again.
        self.write_tiles(old, head.size, pulse)
        try:
            self.read_back(old, head, mark)
        except Broken:  # a file was altered or lost since it was written, and the database has them all
            self.write_tiles(0, head.size, pulse)
            self.read_back(0, head, mark)

    def _require(self, lead: Lead) -> None:
        with self._database.reading() as connection:
            if not leases.holds(connection, lead):
                raise leases.lost()


def wrong_files(
    database: Database, places: Places, log_key: VerifierKey, steps: Steps = unseen
) -> Iterator[Path]:
    """Tile files below the published checkpoint that are not what the database says that they must be."""
    shown = _published(places, log_key)
    tree_files, texts = TileFiles(places.public), TileFiles(places.private)
    with database.reading() as connection:
        size = min(shown.size if shown else 0, tree.size(connection))
        for level, index, width, data in _tiles(connection, 0, size, steps):
            files, found = texts if level is None else tree_files, None
            with suppress(BaileeError):  # one that cannot even be read is wrong
                found = files.read(level, index, width)
            if found != data:
                yield files.path(level, index, width)


def is_published(places: Places, log_key: VerifierKey) -> bool:
    """Whether a checkpoint of this log lies beside the tile files.

    Without one no tile file is looked at by `wrong_files`.
    """
    return _published(places, log_key) is not None


def forgotten(database: Database, places: Places, log_key: VerifierKey) -> str:
    """What to say when a checkpoint was published that the database has lost, with all others.

    Empty otherwise.
    """
    shown = _published(places, log_key)
    with database.reading() as connection:
        if shown is None or tree.newest_note(connection) is not None:
            return ""
    return (
        f"A checkpoint over {shown.size} entries was published, and the database has none of its checkpoints."
    )


def _published(places: Places, log_key: VerifierKey) -> Checkpoint | None:
    note = _shown(places)
    with suppress(BaileeError):  # a damaged file is not believed, and made anew by the next round
        return notes.open_checkpoint(note, [log_key]) if note else None
    return None


def _shown(places: Places) -> str | None:
    try:
        return places.checkpoint.read_text("utf-8")
    except (OSError, UnicodeDecodeError):
        return None


def _tiles(
    connection: Connection, old: int, new: int, steps: Steps
) -> Iterator[tuple[int | None, int, int, bytes]]:
    """Level (None: of entries), index, width and contents of every tile that a log of `new` entries has and
    one of `old` had not.
    """
    stored = tree.StoredTiles(connection)
    for level, index, width in tile_files.changed(old, new):
        yield level, index, width, stored.read(level, index)[: width * entries.HASH_BYTES]
        if level == 0:
            first = index * merkle.TILE_WIDTH
            yield None, index, width, entries.pack(log.texts(connection, first, first + width))
            steps(first + width - old, new - old)


def _with_signatures(connection: Connection, size: int, more: Iterable[NoteSignature]) -> str | None:
    note = tree.note_at(connection, size, to_change=True)
    if note is None:
        return None
    signed = read_note(note)
    fresh = {(each.name, each.key_id): each for each in more}
    kept = [each for each in signed.signatures if (each.name, each.key_id) not in fresh]
    lines = (*kept, *fresh.values())  # the log's own line stays the first
    changed = SignedNote(signed.text, lines)
    tree.keep_note(connection, size, print_note(changed), _cosignatures(changed))
    return print_note(changed)


def _cosignatures(note: SignedNote) -> int:
    origin = parse(note.text).origin
    return sum(each.name != origin for each in note.signatures)
