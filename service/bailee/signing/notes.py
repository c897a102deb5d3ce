"""Signing and verifying checkpoints, and where chains end under them: C2SP signed-note with Ed25519 (type
0x01), cosignature/v1 (type 0x04).
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from bailee.errors import Broken, Forged, Malformed, OtherKey
from bailee.ledger import ends
from bailee.ledger.checkpoint import (
    Checkpoint,
    Cosignature,
    KeyType,
    NoteSignature,
    SignedNote,
    VerifierKey,
    cosignature_message,
    parse,
    print_note,
    read_cosignature,
    read_note,
)
from bailee.ledger.ends import Ends
from bailee.signing import keys


def verifier_key(name: str, key: keys.LogKey) -> VerifierKey:
    """The public half of a log's key, under the log's name."""
    return VerifierKey(name, KeyType.ED25519, key.public)


def sign(checkpoint: Checkpoint, key: keys.LogKey) -> str:
    """The checkpoint as a signed note; the key's name is the log's origin (C2SP tlog-checkpoint)."""
    return _signed(checkpoint.body(), checkpoint.origin, key)


def sign_ends(found: Ends, key: keys.LogKey) -> str:
    """Where chains end, as a note signed by the key of the log's checkpoints (C2SP signed-note)."""
    return _signed(found.body(), found.checkpoint.origin, key)


def open_checkpoint(note: str, log_keys: Iterable[VerifierKey]) -> Checkpoint:
    """The checkpoint in `note`, signed by one of `log_keys`.

    Raises `Malformed`, `Broken` (`checkpoint`), `OtherKey`.
    """
    signed = read_note(note)
    checkpoint = parse(signed.text)
    _require_signed(signed, checkpoint.origin, log_keys, "checkpoint")
    return checkpoint


def open_ends(note: str, log_keys: Iterable[VerifierKey]) -> Ends:
    """Where chains end, as one of `log_keys` signed it. Raises `Malformed`, `Broken` (`ends`), `OtherKey`."""
    signed = read_note(note)
    found = ends.read(signed.text)
    _require_signed(signed, found.checkpoint.origin, log_keys, "ends")
    return found


_WHAT: Final = {"checkpoint": "The checkpoint", "ends": "The log's signed list of chain ends"}


def _signed(text: str, name: str, key: keys.LogKey) -> str:
    mine = verifier_key(name, key)
    return print_note(SignedNote(text, (NoteSignature(mine.name, mine.key_id, key.sign(text.encode())),)))


def _require_signed(signed: SignedNote, origin: str, log_keys: Iterable[VerifierKey], what: str) -> None:
    """One line in the name of the log, and by one of these keys: a second one would be the word of two logs
    of one name.
    """
    if sum(each.name == origin for each in signed.signatures) > 1:
        raise Broken(
            f"{_WHAT[what]} has more than one signature in the name of {origin} itself, and a log signs once:"
            " ask its operator who else signs in its name.",
            code=what,
            origin=origin,
        )
    for key in log_keys:
        if key.name == origin and key.type is KeyType.ED25519:
            for signature in signed.by(key):
                try:
                    keys.verify(key.public, signature.signature, signed.text.encode())
                except Forged as error:
                    raise Broken(
                        f"{_WHAT[what]} has a signature that does not fit the log key you gave: it was"
                        " altered, or is of another log.",
                        code=what,
                    ) from error
                return
    raise OtherKey(
        f"{_WHAT[what]}, of {origin}, is not signed by the log key you gave: it is of another log, or the key"
        " is wrong.",
        origin=origin,
    )


def cosigner_key(name: str, key: keys.SigningKey) -> VerifierKey:
    """The public half of a cosigner's key (type 0x04), under the cosigner's name."""
    return VerifierKey(name, KeyType.COSIGNATURE_V1, key.public)


def cosign(text: str, name: str, key: keys.SigningKey, time: int) -> NoteSignature:
    """Cosign a checkpoint's text at POSIX `time` (C2SP tlog-cosignature, cosignature/v1)."""
    signature = Cosignature(time, key.sign(cosignature_message(time, text)))
    return NoteSignature(name, cosigner_key(name, key).key_id, signature.to_bytes())


def cosigned_at(note: SignedNote, cosigner: VerifierKey) -> int | None:
    """When this cosigner cosigned the note, POSIX seconds, the newest of several; None when it did not.

    Raises `Broken` (`cosignature`) when a line bears its name and key and does not verify: a note with a
    false line is refused as a whole (C2SP signed-note, Verifying).
    """
    times = []
    for line in note.by(cosigner):
        try:
            found = read_cosignature(line.signature)
            keys.verify(cosigner.public, found.signature, cosignature_message(found.time, note.text))
        except (Forged, Malformed) as error:
            raise Broken(
                f"A cosignature in the name of {cosigner.name} does not fit the checkpoint: it was altered,"
                " or made for another one.",
                code="cosignature",
                cosigner=cosigner.name,
            ) from error
        times.append(found.time)
    return max(times, default=None)


def print_line(signature: NoteSignature) -> str:
    """One signature line, as it stands in a note."""
    return print_note(SignedNote("\n", (signature,))).removeprefix("\n\n")
