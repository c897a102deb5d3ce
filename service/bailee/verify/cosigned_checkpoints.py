"""Who else vouches for a checkpoint: step 2 of the verifier, second half.

A cosignature says: at this time this cosigner saw the log grow into this checkpoint from everything it had
seen of it before. With enough of them, everybody is shown the same log, unless all of them are in it
together.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime

from bailee.errors import BaileeError
from bailee.frozen import frozen
from bailee.ledger.checkpoint import VerifierKey, read_note
from bailee.signing import notes as signed_notes
from bailee.verify.evidence import Notes, shown
from bailee.verify.result import PlaceInFile


@frozen
class Cosigned:
    """Cosigners whose line holds, each with its time (POSIX seconds); `enough` when they are as many as the
    auditor asks for.
    """

    by: Mapping[str, int]
    enough: bool

    def sentence(self) -> str:
        """Who cosigned, and when."""
        named = [f"{name} at {shown(told(time))}" for name, time in sorted(self.by.items())]
        return (
            f"They are cosigned by {', '.join(named)}."
            if named
            else "They are not cosigned by any cosigner you named."
        )


def told(time: int) -> str:
    """POSIX seconds as a time of RFC 3339 in UTC."""
    return f"{datetime.fromtimestamp(time, UTC):%Y-%m-%dT%H:%M:%SZ}"


def weigh(note: str, cosigners: Mapping[str, VerifierKey], quorum: int, notes: Notes) -> Cosigned:
    """Count the cosignatures on a note that the log signed.

    A false line by one of `cosigners` is a fault, not merely not counted.
    """
    by: dict[str, int] = {}
    try:
        signed = read_note(note)
    except BaileeError:
        return Cosigned({}, enough=False)  # which step 2 has noted already
    for name, key in cosigners.items():
        try:
            time = signed_notes.cosigned_at(signed, key)
        except BaileeError as error:
            notes.fault(2, error.code, PlaceInFile(), error.sentence)
            continue
        if time is not None:
            by[name] = time
    return Cosigned(by, enough=0 < quorum <= len(by))
