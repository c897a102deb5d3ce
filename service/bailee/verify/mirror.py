"""A monitor's mirror: somebody else's copy of a whole log, every entry of it checked.

    <folder>/tile/entries/…    entry tiles, as C2SP tlog-tiles names them; `bailee repair --from` reads them
    <folder>/checkpoint        the newest checkpoint whose entries are all here and hash to it; written last
    <folder>/evidence/…        checkpoints and entries that contradict the mirror, kept as they came

One round: fetch the checkpoint; fetch the entries that are new; check each (`verify.log_audit`); compute the
root oneself. A log that shows fewer entries than before, or other ones, is never followed: what it showed is
kept, because a signed checkpoint that contradicts an earlier one proves the fault to anybody.
"""

from __future__ import annotations

from collections.abc import Callable
from hashlib import sha256
from pathlib import Path

from bailee.disk import durable, replacing
from bailee.disk.tile_files import TileFiles
from bailee.errors import Broken
from bailee.frozen import frozen
from bailee.ledger import entry as entries
from bailee.ledger import merkle
from bailee.ledger.checkpoint import Checkpoint, VerifierKey
from bailee.signing import notes
from bailee.verify.authorship import Steps, unseen
from bailee.verify.log_audit import Audit, Trouble

Fetch = Callable[[str], bytes]
"""Gives what lies at a path of the log, like "tile/entries/000.p/5"."""


@frozen
class Round:
    """What one round found: the note that was fetched, its checkpoint, how many entries are new, what
    does not hold, and what was not checked.
    """

    note: str
    checkpoint: Checkpoint
    new: int
    troubles: tuple[Trouble, ...]
    not_checked: str = ""


class Mirror:
    """One mirror of one log. What was checked once in this process is not checked again."""

    def __init__(self, folder: Path, log_key: VerifierKey) -> None:
        self._folder = folder
        self._log_key = log_key
        self._texts = TileFiles(folder)
        self._audit = Audit(log_key.name)
        self._troubles: list[Trouble] = []

    def checkpoint(self) -> Checkpoint | None:
        """The newest checkpoint that the mirror vouches for.

        Raises `Broken` when its file is not the log's.
        """
        try:
            note = (self._folder / "checkpoint").read_text("utf-8")
        except FileNotFoundError:
            return None
        return notes.open_checkpoint(note, [self._log_key])

    def round(self, note: str, fetch: Fetch, steps: Steps = unseen) -> Round:
        """Follow the log to the checkpoint in `note`.

        Raises `Broken` when the log contradicts what it showed before ("rolled-back", "forked") or itself
        ("root"), with what it showed kept in `evidence`; `Malformed` for a note or tile that cannot be read.
        """
        checkpoint = notes.open_checkpoint(note, [self._log_key])
        known = self.checkpoint()
        if known and checkpoint.size < known.size:
            raise self._contradiction("rolled-back", note, known, checkpoint)
        if known and self._audit.size < known.size:
            self._read_own(known, steps)
        before = self._audit.size
        try:
            self._follow(note, known, checkpoint, fetch, steps)
        except Exception:
            self._forget()  # what was heard in vain must not count in the next round
            raise
        for index, width in self._new(before, checkpoint.size):
            self._texts.drop_partials(None, index, below=width)
        return Round(
            note, checkpoint, checkpoint.size - before, tuple(self._troubles), self._audit.not_checked()
        )

    def _follow(
        self, note: str, known: Checkpoint | None, checkpoint: Checkpoint, fetch: Fetch, steps: Steps
    ) -> None:
        fetched = self._new(self._audit.size, checkpoint.size)
        for index, width in fetched:
            data = fetch(merkle.tile_path(None, index, width))
            told = entries.unpack(data)
            if len(told) != width:
                raise Broken(
                    f"The log sent {len(told)} entries where {width} must be: try again; if this continues,"
                    " ask its operator.",
                    code="entries-missing",
                )
            self._hear(told[self._audit.size - index * merkle.TILE_WIDTH :])
            self._texts.write(None, index, width, data)
            steps(self._audit.size, checkpoint.size)
        if self._audit.root(checkpoint.size) != checkpoint.root:
            for index, width in fetched:
                path = self._texts.path(None, index, width)
                self._keep(f"entries-{index}", path.read_bytes())
                path.unlink()
            raise self._contradiction("forked" if known else "root", note, known, checkpoint)
        durable.write(self._folder / "checkpoint", note.encode(), replacing.PUBLIC)

    def _forget(self) -> None:
        self._audit = Audit(self._log_key.name)
        self._troubles = []

    def _read_own(self, known: Checkpoint, steps: Steps) -> None:
        """After a start: check again what is in the mirror.

        Raises `Broken` ("mirror") when it was altered.
        """
        for index in range(-(-known.size // merkle.TILE_WIDTH)):
            width = merkle.tile_width(0, index, known.size)
            data = self._texts.read(None, index, width)
            self._hear(entries.unpack(data or b""))
            steps(self._audit.size, known.size)
        if self._audit.size != known.size or self._audit.root(known.size) != known.root:
            raise Broken(
                f"The mirror in {self._folder} does not verify: its entries do not hash to its own"
                " checkpoint. Save it unchanged, and mirror the log again into another folder.",
                code="mirror",
            )

    @staticmethod
    def _new(before: int, size: int) -> list[tuple[int, int]]:
        """Index and width of the entry tiles that hold anything new."""
        if before == size:
            return []
        indexes = range(before // merkle.TILE_WIDTH, (size - 1) // merkle.TILE_WIDTH + 1)
        return [(index, merkle.tile_width(0, index, size)) for index in indexes]

    def _hear(self, texts: list[bytes]) -> None:
        for data in texts:
            index = self._audit.size
            text = data.decode("utf-8", "surrogateescape")  # so that every byte is hashed as it came
            self._troubles += [Trouble(index, said) for said in self._audit.read(text)]

    def _contradiction(self, code: str, note: str, known: Checkpoint | None, now: Checkpoint) -> Broken:
        kept = self._keep("checkpoint", note.encode())
        if known:
            self._keep("checkpoint", (self._folder / "checkpoint").read_bytes())
        before = f"{known.size} entries before" if known else "no checkpoint before"
        return Broken(
            f"{now.origin} contradicts itself: it signed a checkpoint over {now.size} entries that does not"
            f" continue what it showed, {before}. Both are saved in {kept.parent}: show them to all who rely"
            " on this log.",
            code=code,
            size=now.size,
            before=known.size if known else None,
        )

    def _keep(self, name: str, data: bytes) -> Path:
        path = self._folder / "evidence" / f"{name}-{sha256(data).hexdigest()[:16]}"
        durable.write(path, data, replacing.PUBLIC)
        return path
