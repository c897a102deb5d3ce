"""Publishing: from a tree head in the database to a signed checkpoint that anybody can fetch.

`Publisher.publish` does it in the order in which things become true, and may be repeated at any point: everything before the signature
is a pure function of the entries, and the signature of a tree head is always the same one (RFC 8032 5.1.6). Nothing is signed that was
not read back from the disk and hashed again, and nothing is shown that the high-water file does not hold.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from sqlalchemy.engine import Connection

from bailee.disk import durable, tiles
from bailee.disk.tiles import TileFiles, TreeOnDisk
from bailee.errors import BaileeError, Broken
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
from bailee.operations.guard import Guard
from bailee.signing import notes
from bailee.store import log, tree
from bailee.store.database import Database
from bailee.store.tree import TreeHead


@frozen
class Places:
    """Where things lie. `public` may be served by any web server as it is; `private` holds what people said."""

    public: Path
    private: Path
    lock: Path

    @property
    def checkpoint(self) -> Path:
        """The newest published checkpoint."""
        return self.public / "checkpoint"


class Publisher:
    """`sign` makes the signed note of a checkpoint with the log's key."""

    def __init__(
        self,
        database: Database,
        guard: Guard,
        places: Places,
        log_key: VerifierKey,
        sign: Callable[[Checkpoint], str],
    ) -> None:
        self.places = places
        self._database = database
        self._guard = guard
        self._log_key = log_key
        self._sign = sign
        self._tree = TileFiles(places.public)
        self._texts = TileFiles(places.private)
        self._thread = threading.Lock()

    def publish(self) -> bool:
        """Publish the newest tree head; whether there was anything to do. One process and thread at a time.

        Raises `Unavailable` (`log-frozen` when the database may not go on, `disk` when files cannot be written) and `Broken`
        (`read-back`, or a proof that does not hold): then nothing new was signed.
        """
        with self._alone():
            with self._database.reading() as connection:
                mark = self._guard.require(connection)
                head = tree.newest_head(connection)
            shown = self.published()
            if head is None or (shown and shown.size >= head.size):
                return False
            old = shown.size if shown else 0
            # Until the signature, a crash leaves files that nobody was told of; the same files are written again.
            self.write_tiles(old, head.size)
            try:
                self.read_back(old, head, mark)
            except Broken:  # a file was altered or lost since it was written, and the database has them all
                self.write_tiles(0, head.size)
                self.read_back(0, head, mark)
            note = self.sign(head, mark)
            # A crash here leaves a signature that nobody has seen. From the next line on it counts for ever.
            if mark is None or mark.size < head.size:
                self.mark(note)
            # A crash here leaves it in the high-water file only: the next round makes the very same note again.
            note = self.keep(head, note)
            self.announce(note)
            self._tidy(old, head.size)
            return True

    def write_tiles(self, old: int, new: int) -> None:
        """Write every hash tile and entry tile that changed."""
        with self._database.reading() as connection:
            for level, index, width, data in _tiles(connection, old, new):
                (self._texts if level is None else self._tree).write(level, index, width, data)

    def write_again(self) -> None:
        """Write every tile of the newest tree head anew, whatever is there."""
        with self._alone():
            with self._database.reading() as connection:
                size = tree.size(connection)
            self.write_tiles(0, size)

    def read_back(self, old: int, head: TreeHead, mark: Checkpoint | None) -> None:
        """Hash again what is on disk: it must give the root of the tree head, and continue what was signed before."""
        tiles.require_derived(self._tree, self._texts, old, head.size)
        on_disk = TreeOnDisk(self._tree, head.size)
        if merkle.root(on_disk, head.size) != head.root:
            raise Broken(
                "The tiles on disk do not hash to the tree in the database: nothing is signed. Run `bailee check-ledger`.",
                code="read-back",
            )
        if mark is not None:
            path = merkle.consistency_path(on_disk, mark.size, head.size)
            proof.check_consistency(mark.size, head.size, path, mark.root, head.root)

    def sign(self, head: TreeHead, mark: Checkpoint | None) -> str:
        """The signed note of the tree head; the one it has already, when a crash came after it."""
        known = self._guard.high_water.newest() if mark and mark.size == head.size else None
        return head.note or known or self._sign(Checkpoint(self._log_key.name, head.size, head.root))

    def mark(self, note: str) -> None:
        """Add the note to the high-water file."""
        self._guard.high_water.append(note)

    def keep(self, head: TreeHead, note: str) -> str:
        """Keep the note beside the tree head; the note that is kept there."""
        if head.note is None:
            self._database.write(lambda connection: tree.keep_note(connection, head.size, note, 0))
        return head.note or note

    def announce(self, note: str) -> None:
        """Show the checkpoint to everybody. Last of all: whoever reads it finds every tile it needs."""
        durable.write(self.places.checkpoint, note.encode())

    def published(self) -> Checkpoint | None:
        """The checkpoint that is shown now."""
        return _published(self.places, self._log_key)

    def shown(self) -> str | None:
        """The note that is shown now, as it is on disk."""
        return _shown(self.places)

    def add_signatures(self, size: int, more: Iterable[NoteSignature]) -> None:
        """Add cosignatures, verified by the caller, to the note of this size; shown at once when it is the newest.

        A newer line of a key replaces its older one.
        """
        with self._alone():
            note = self._database.write(lambda connection: _with_signatures(connection, size, more))
            shown = self.published()
            if note and shown and shown.size == size:
                self.announce(note)

    def tile(self, level: int | None, index: int, width: int) -> bytes | None:
        """A published hash tile, or (level None) entry tile; None when there is none."""
        return (self._texts if level is None else self._tree).read(level, index, width)

    def _tidy(self, old: int, new: int) -> None:
        """Drop partial tiles that nobody needs: a full one is there; of entries, which only we and monitors read, older ones."""
        for level, index, width in tiles.changed(old, new):
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

    @contextmanager
    def _alone(self) -> Iterator[None]:
        with self._thread, durable.alone(self.places.lock):
            yield


def wrong_files(database: Database, places: Places, log_key: VerifierKey) -> Iterator[Path]:
    """Tile files below the published checkpoint that are not what the database says that they must be."""
    shown = _published(places, log_key)
    tree_files, texts = TileFiles(places.public), TileFiles(places.private)
    with database.reading() as connection:
        size = min(shown.size if shown else 0, tree.size(connection))
        for level, index, width, data in _tiles(connection, 0, size):
            files, found = texts if level is None else tree_files, None
            with suppress(BaileeError):  # one that cannot even be read is wrong
                found = files.read(level, index, width)
            if found != data:
                yield files.path(level, index, width)


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


def _tiles(connection: Connection, old: int, new: int) -> Iterator[tuple[int | None, int, int, bytes]]:
    """Level (None: of entries), index, width and contents of every tile that a log of `new` entries has and one of `old` had not."""
    stored = tree.StoredTiles(connection)
    for level, index, width in tiles.changed(old, new):
        yield level, index, width, stored.read(level, index)[: width * entries.HASH_BYTES]
        if level == 0:
            first = index * merkle.TILE_WIDTH
            yield None, index, width, entries.pack(log.texts(connection, first, first + width))


def _with_signatures(connection: Connection, size: int, more: Iterable[NoteSignature]) -> str | None:
    note = tree.note_at(connection, size)
    if note is None:
        return None
    signed = read_note(note)
    fresh = {(each.name, each.key_id): each for each in more}
    kept = [each for each in signed.signatures if (each.name, each.key_id) not in fresh]
    lines = (*kept, *fresh.values())  # the log's own line stays the first
    origin = parse(signed.text).origin
    text = print_note(SignedNote(signed.text, lines))
    tree.keep_note(connection, size, text, sum(each.name != origin for each in lines))
    return text
