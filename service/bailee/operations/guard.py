"""Whether this database may go on: it must continue everything the log has ever signed.

An old copy of the database, put back by accident or on purpose, looks sound in itself. What gives it away lies outside of it: the
high-water file, to which every checkpoint is added before anybody sees it, and what cosigners saw. While the log is frozen nothing
is signed and nothing is recorded; everything can be read.
"""

from __future__ import annotations

import json
from collections.abc import Collection
from pathlib import Path

from sqlalchemy.engine import Connection

from bailee.disk import durable
from bailee.disk.note_file import NoteFile
from bailee.errors import BaileeError, Unavailable
from bailee.ledger.checkpoint import Checkpoint, VerifierKey
from bailee.signing import notes
from bailee.store import tree

CODE = "log-frozen"


class Guard:
    """`frozen_file` holds what a cosigner said that the database cannot answer; it counts while that cosigner is configured."""

    def __init__(
        self, high_water: NoteFile, log_key: VerifierKey, frozen_file: Path, cosigners: Collection[str]
    ) -> None:
        self.high_water = high_water
        self._log_key = log_key
        self._frozen_file = frozen_file
        self._cosigners = frozenset(cosigners)
        self._mark: tuple[tuple[int, int] | None, Checkpoint | None] = (None, None)
        self._held: Checkpoint | None = None

    def require(self, connection: Connection) -> Checkpoint | None:
        """The newest checkpoint ever signed, None before the first. Raises `Unavailable` (`log-frozen`, both sizes).

        Cheap when nothing changed since the last call: one look at the file's date and one at the newest tree head.
        """
        mark = self._newest_mark()
        size = tree.size(connection)
        if mark is None and tree.newest_note(connection) is not None:
            raise _missing_file(self.high_water.path)
        if mark is not None:
            if size < mark.size:
                raise _behind(size, mark.size)
            if mark != self._held and tree.root_at(connection, mark.size) != mark.root:
                raise _other_history(mark.size, size)
            self._held = mark
        self._require_no_objection(size)
        return mark

    def sentence(self, connection: Connection) -> str | None:
        """Why the log is frozen; None when it is not."""
        try:
            self.require(connection)
        except Unavailable as error:
            return error.sentence
        return None

    def object_for(self, cosigner: str, ours: int, theirs: int) -> Unavailable:
        """Freeze the log, because this cosigner saw a log that the database cannot be the continuation of."""
        said = {"cosigner": cosigner, "database": ours, "cosigned": theirs}
        durable.write(self._frozen_file, json.dumps(said).encode())
        return _objection(said)

    def objects(self, cosigner: str) -> bool:
        """Whether it is this cosigner that keeps the log frozen."""
        return self._objection().get("cosigner") == cosigner

    def withdraw(self, cosigner: str) -> None:
        """The cosigner agrees with the database again."""
        if self.objects(cosigner):
            self._frozen_file.unlink(missing_ok=True)

    def _newest_mark(self) -> Checkpoint | None:
        version = self.high_water.version()
        if version is None:
            return None
        if version != self._mark[0]:
            note = self.high_water.newest()
            try:
                self._mark = (version, notes.open_checkpoint(note, [self._log_key]) if note else None)
            except Unavailable:
                raise
            except BaileeError as error:
                raise Unavailable(
                    f"The newest line of {self.high_water.path} is no checkpoint of this log: nothing is signed or recorded. Put "
                    "back the right file.",
                    code=CODE,
                ) from error
        return self._mark[1]

    def _require_no_objection(self, size: int) -> None:
        said = self._objection()
        if said.get("cosigner") in self._cosigners:
            raise _objection({**said, "database": size})

    def _objection(self) -> dict[str, object]:
        if not self._frozen_file.exists():
            return {}
        try:
            found = json.loads(self._frozen_file.read_bytes())
        except (OSError, ValueError):
            return {}
        return found if isinstance(found, dict) else {}


def _behind(size: int, signed: int) -> Unavailable:
    return Unavailable(
        f"The database holds {size} entries of the log, and {signed} were signed: an old copy of it is in place. Nothing is signed or "
        "recorded, everything can be read. Run `bailee repair` to bring the missing entries back.",
        code=CODE,
        database=size,
        signed=signed,
    )


def _other_history(signed: int, size: int) -> Unavailable:
    return Unavailable(
        f"The first {signed} of the {size} entries in the database are not the {signed} that were signed: it is the database of another "
        "history. Nothing is signed or recorded. Put back the right database, then run `bailee repair`.",
        code=CODE,
        database=size,
        signed=signed,
    )


def _missing_file(path: Path) -> Unavailable:
    return Unavailable(
        f"The high-water file {path} is missing, and this log has signed checkpoints. Nothing is signed or recorded. Put the file "
        "back, or mount its disk; if it is lost for good, `bailee repair --new-high-water` begins a new one.",
        code=CODE,
    )


def _objection(said: dict[str, object]) -> Unavailable:
    return Unavailable(
        f"The cosigner {said['cosigner']} cosigned this log with {said.get('cosigned')} entries, and the database, with "
        f"{said.get('database')}, does not continue that: an old copy of it is in place, or another history. Nothing is signed or "
        "recorded, everything can be read. Run `bailee repair`; if the cosigner is wrong, take it out of the settings.",
        code=CODE,
        **{name: value for name, value in said.items() if name in ("cosigner", "database", "cosigned")},
    )
