"""Whether this database may go on: it must continue everything the log has ever signed.

An old copy of the database, put back by accident or on purpose, looks sound in itself. What gives it away
lies outside of it: the high-water file, to which every checkpoint is added before anybody sees it, the
checkpoint that is published, and what cosigners saw. A cosigner is believed when it shows a checkpoint that
this log itself signed, and never for a number. While the log is frozen nothing is signed and nothing is
recorded; everything can be read. So is a home that was made of a backup, until it was compared: all that it
has to go by is as old as itself.
"""

from __future__ import annotations

import json
from contextlib import suppress
from pathlib import Path
from typing import Final

from sqlalchemy.engine import Connection

from bailee.disk import durable
from bailee.disk.note_file import NoteFile, file_version
from bailee.errors import BaileeError, Unavailable
from bailee.ledger.checkpoint import Checkpoint, VerifierKey, parse, read_note
from bailee.rules.remedies import act
from bailee.signing import notes
from bailee.store import tree

CODE: Final = "log-frozen"
_REPAIR: Final = act("repair_ledger")


class Guard:
    """`published` is the file of the checkpoint that everybody is shown.

    `proof_file` holds a checkpoint of this log that a cosigner has shown and the database did not continue;
    `restored` lies in a home that was made of a backup, until it was compared.
    """

    def __init__(
        self, high_water: NoteFile, published: Path, log_key: VerifierKey, proof_file: Path, restored: Path
    ) -> None:
        self.high_water = high_water
        self._restored = restored
        self._published = published
        self._log_key = log_key
        self._proof_file = proof_file
        self._mark: tuple[tuple[int, int] | None, Checkpoint | None] = (None, None)
        self._shown: tuple[tuple[int, int] | None, Checkpoint | None] = (None, None)
        self._held: frozenset[Checkpoint] = frozenset()

    def require(self, connection: Connection) -> Checkpoint | None:
        """The newest checkpoint ever signed, None before the first.

        Raises `Unavailable` (`log-frozen`, both sizes), also for a home that was not compared yet.

        Cheap when nothing changed since the last call: one look at the dates of three files and one at the
        newest tree head.
        """
        newest = self.require_continued(connection)
        if self.is_restored:
            raise _not_compared(tree.size(connection))
        return newest

    def require_continued(self, connection: Connection) -> Checkpoint | None:
        """The newest checkpoint ever signed; raises as `require` does, of a home that was not compared only
        for what is known in it.
        """
        mark, shown = self._newest_mark(), self._newest_shown()
        size = tree.size(connection)
        if mark is None and tree.newest_note(connection) is not None:
            raise _missing_file(self.high_water.path)
        signed = sorted(filter(None, (mark, shown)), key=lambda each: each.size, reverse=True)
        for each in signed:
            if size < each.size:
                raise _behind(size, each.size)
            if each not in self._held and tree.root_at(connection, each.size) != each.root:
                raise _other_history(each.size, size)
        self._held = frozenset(signed)
        self._require_no_objection(connection, size)
        return signed[0] if signed else None

    @property
    def is_restored(self) -> bool:
        """Whether this home was made of a backup, and not compared since."""
        return self._restored.exists()

    def compared(self) -> None:
        """What others hold of the log was asked for, and is here."""
        self._restored.unlink(missing_ok=True)

    def sentence(self, connection: Connection) -> str | None:
        """Why the log is frozen; None when it is not."""
        try:
            self.require(connection)
        except Unavailable as error:
            return error.sentence
        return None

    def object_for(self, cosigner: str, note: str, connection: Connection) -> None:
        """A cosigner shows a checkpoint.

        Raises `Unavailable` (`log-frozen`), now and from now on, unless the database continues it.

        Raises `Broken`, `Malformed` when it is none that this log signed: then nothing changes.
        """
        shown = notes.open_checkpoint(note, [self._log_key])
        if tree.root_at(connection, shown.size) == shown.root:
            return
        durable.write(self._proof_file, json.dumps({"cosigner": cosigner, "note": note}).encode())
        self._require_no_objection(connection, tree.size(connection))

    def shown_by_cosigners(self) -> str | None:
        """The checkpoint by which a cosigner has frozen the log; None when there is none."""
        return self._objection()[1]

    def _newest_mark(self) -> Checkpoint | None:
        version = self.high_water.version()
        if version is None:
            return None
        if version != self._mark[0]:
            lines = self.high_water.newest_few()
            try:
                self._mark = (version, self._largest(lines) if lines else None)
            except Unavailable:
                raise
            except BaileeError as error:
                raise Unavailable(
                    f"The newest line of {self.high_water.path} is not a checkpoint of this log: nothing is"
                    " signed or recorded. Put back the right file.",
                    code=CODE,
                ) from error
        return self._mark[1]

    def _largest(self, newest_first: list[str]) -> Checkpoint:
        """The newest line must be ours.

        One before it may be larger, when a process that was stopped in the middle wrote late.
        """
        largest = notes.open_checkpoint(newest_first[0], [self._log_key])
        for each in newest_first[1:]:
            with suppress(BaileeError):
                if parse(read_note(each).text).size > largest.size:
                    largest = notes.open_checkpoint(each, [self._log_key])
        return largest

    def _newest_shown(self) -> Checkpoint | None:
        """The published checkpoint.

        A file that this log did not sign is not believed, and made anew by the next round.
        """
        version = file_version(self._published)
        if version != self._shown[0]:
            found = None
            with suppress(BaileeError, OSError, UnicodeDecodeError):
                found = notes.open_checkpoint(self._published.read_text("utf-8"), [self._log_key])
            self._shown = (version, found)
        return self._shown[1]

    def _require_no_objection(self, connection: Connection, size: int) -> None:
        cosigner, note = self._objection()
        if note is None:
            return
        try:
            shown = notes.open_checkpoint(note, [self._log_key])
        except BaileeError:
            return  # whatever lies there, this log has not signed it
        if tree.root_at(connection, shown.size) != shown.root:
            raise _objection(cosigner, size, shown.size)
        self._proof_file.unlink(missing_ok=True)  # repaired: the database continues it

    def _objection(self) -> tuple[str, str | None]:
        """Who showed what; it counts until the database continues it, whoever is configured by then."""
        if not self._proof_file.exists():
            return "", None
        try:
            found = json.loads(self._proof_file.read_bytes())
            return str(found["cosigner"]), str(found["note"])
        except (OSError, ValueError, KeyError, TypeError):
            return "", None


def _not_compared(size: int) -> Unavailable:
    return Unavailable(
        f"This ledger of {size} entries was made of a backup, and is not compared yet with what others hold"
        " of the log. Nothing is signed or recorded, everything can be read. Repair the ledger.",
        code=CODE,
        acts=[_REPAIR],
        database=size,
    )


def _behind(size: int, signed: int) -> Unavailable:
    return Unavailable(
        f"The database holds {size} entries of the log, and {signed} were signed: an old copy of it is in"
        " place. Nothing is signed or recorded, everything can be read. Stop the service on every host, then"
        " repair the ledger on each to bring the missing entries back.",
        code=CODE,
        acts=[_REPAIR],
        database=size,
        signed=signed,
    )


def _other_history(signed: int, size: int) -> Unavailable:
    return Unavailable(
        f"The first {signed} of the {size} entries in the database are not the {signed} that were signed: it"
        " is the database of another history. Nothing is signed or recorded. Put back the right database,"
        " then repair it.",
        code=CODE,
        acts=[_REPAIR],
        database=size,
        signed=signed,
    )


def _missing_file(path: Path) -> Unavailable:
    return Unavailable(
        f"The high-water file {path} is missing, and this log has signed checkpoints. Nothing is signed or"
        " recorded. Put the file back, or mount its disk; if it is lost for good, a repair begins a new"
        " one.",
        code=CODE,
        acts=[act("repair_ledger", new_high_water=True)],
    )


def _objection(cosigner: str, size: int, cosigned: int) -> Unavailable:
    return Unavailable(
        f"The cosigner {cosigner} shows a checkpoint of {cosigned} entries that this log signed, and the"
        f" database, with {size}, does not continue it: an old copy of it is in place, or another history."
        " Nothing is signed or recorded, everything can be read. Repair the ledger.",
        code=CODE,
        acts=[_REPAIR],
        cosigner=cosigner,
        database=size,
        cosigned=cosigned,
    )
