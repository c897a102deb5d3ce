"""A cosigner: signs that a log it follows has only ever grown, as far as it was shown.

For each log it remembers the newest checkpoint it cosigned, the whole note, in a file of its own. Comparing
and replacing that file happen under one lock, across threads and processes, and the file is durable before
the answer leaves: two requests can never both win, and a restart forgets nothing (C2SP tlog-witness). A
memory that is gone or spoiled is no memory of nothing: a cosigner that began anew would vouch for a second
history.
"""

from __future__ import annotations

import threading
from collections.abc import Iterable
from hashlib import sha256
from http import HTTPStatus
from pathlib import Path
from typing import Final

from bailee.cosigning import request
from bailee.cosigning.request import AddCheckpoint
from bailee.disk import durable
from bailee.errors import BaileeError, Broken, Malformed, Unavailable
from bailee.frozen import frozen
from bailee.ledger import proof
from bailee.ledger.checkpoint import Checkpoint, VerifierKey, parse, print_note, read_note
from bailee.ledger.merkle import EMPTY_ROOT
from bailee.signing import notes
from bailee.signing.keys import SigningKey


@frozen
class Response:
    """What the protocol answers: a status, a text, its media type."""

    status: HTTPStatus
    text: str
    media: str = "text/plain; charset=utf-8"


class Cosigner:
    """`logs` are the keys of the logs it follows: the name of a key is the origin of its log.

    `begun`: each has had its file since it is followed (`begin`), so that a missing one was lost.
    """

    def __init__(
        self, folder: Path, name: str, key: SigningKey, logs: Iterable[VerifierKey], *, begun: bool = False
    ) -> None:
        self._folder = folder
        self._begun = begun
        self._name = name
        self._key = key
        self._logs = tuple(logs)
        self._thread = threading.Lock()

    @property
    def verifier(self) -> VerifierKey:
        """The public half, for policies."""
        return notes.cosigner_key(self._name, self._key)

    @property
    def origins(self) -> tuple[str, ...]:
        """The logs it follows."""
        return tuple(dict.fromkeys(key.name for key in self._logs))

    def newest(self, origin: str) -> str | None:
        """The whole note of the newest checkpoint cosigned for this log; None when there was none.

        Raises `Unavailable` (`cosigner-memory`) when what is there is not what this cosigner wrote, or what
        must be there is not.
        """
        path = memory(self._folder, origin)
        try:
            note = path.read_bytes().decode()
            if note == _NOTHING:
                return None
            log_keys = [key for key in self._logs if key.name == origin]
            notes.open_checkpoint(note, log_keys)
            if notes.cosigned_at(read_note(note), self.verifier) is not None:
                return note
        except FileNotFoundError:
            if not self._begun:
                return None
        except (OSError, UnicodeDecodeError, BaileeError):
            pass
        raise Unavailable(
            f"What this cosigner saw of {origin} is lost or spoiled ({path}), and it signs nothing more for"
            " that log: begun anew it would cosign any history. Put the file back as it was; if it is lost"
            " for good, make a new cosigner, with a new key.",
            code="cosigner-memory",
            origin=origin,
        )

    def add_checkpoint(self, body: bytes, now: int) -> Response:
        """Answer a request; `now` is POSIX time in seconds.

        Statuses as in C2SP tlog-witness, add-checkpoint.
        """
        try:
            asked = request.read(body)
            checkpoint = parse(asked.note.text)
        except Malformed as error:
            return Response(HTTPStatus.BAD_REQUEST, f"{error.sentence}\n")
        trusted = [key for key in self._logs if key.name == checkpoint.origin]
        if not trusted:
            return Response(HTTPStatus.NOT_FOUND, f"This cosigner does not follow {checkpoint.origin}.\n")
        try:
            notes.open_checkpoint(print_note(asked.note), trusted)
        except BaileeError as error:
            return Response(HTTPStatus.FORBIDDEN, f"{error.sentence}\n")
        if asked.old > checkpoint.size:
            return Response(HTTPStatus.BAD_REQUEST, "The old size is larger than the checkpoint's.\n")
        with self._thread, durable.alone(self._folder / "lock"):
            return self._compare_and_set(asked, checkpoint, now)

    def _compare_and_set(self, asked: AddCheckpoint, checkpoint: Checkpoint, now: int) -> Response:
        note = self.newest(checkpoint.origin)
        known = parse(read_note(note).text) if note else Checkpoint(checkpoint.origin, 0, EMPTY_ROOT)
        same_size_other_root = known.size == checkpoint.size and known.root != checkpoint.root
        if asked.old != known.size or same_size_other_root:
            return Response(HTTPStatus.CONFLICT, f"{known.size}\n", request.SIZE_MEDIA)
        try:
            proof.check_consistency(known.size, checkpoint.size, asked.proof, known.root, checkpoint.root)
        except Broken as error:
            return Response(HTTPStatus.UNPROCESSABLE_ENTITY, f"{error.sentence}\n")
        line = notes.cosign(asked.note.text, self._name, self._key, now)
        cosigned = print_note(asked.note.with_signatures([line]))
        durable.write(memory(self._folder, checkpoint.origin), cosigned.encode())
        return Response(HTTPStatus.OK, notes.print_line(line))


_NOTHING: Final = "Nothing was cosigned yet.\n"


def begin(folder: Path, origin: str) -> None:
    """Say that a log is followed from now on and nothing of it was cosigned.

    What is remembered of it already stays.
    """
    path = memory(folder, origin)
    if not path.exists():
        path.parent.mkdir(parents=True, exist_ok=True)
        durable.write(path, _NOTHING.encode())


def memory(folder: Path, origin: str) -> Path:
    """Where it is remembered what was cosigned of a log."""
    return folder / "seen" / sha256(origin.encode()).hexdigest()
