"""Signing and verifying checkpoints: C2SP signed-note with Ed25519 (type 0x01), cosignature/v1 (type 0x04)."""

from __future__ import annotations

from collections.abc import Iterable

from bailee.errors import Broken, Forged, Malformed
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
from bailee.signing import keys


def verifier_key(name: str, key: keys.SigningKey) -> VerifierKey:
    """The public half of a log's key, under the log's name."""
    return VerifierKey(name, KeyType.ED25519, key.public)


def sign(checkpoint: Checkpoint, key: keys.SigningKey) -> str:
    """The checkpoint as a signed note; the key's name is the log's origin (C2SP tlog-checkpoint)."""
    text = checkpoint.body()
    mine = verifier_key(checkpoint.origin, key)
    return print_note(SignedNote(text, (NoteSignature(mine.name, mine.key_id, key.sign(text.encode())),)))


def open_checkpoint(note: str, log_keys: Iterable[VerifierKey]) -> Checkpoint:
    """The checkpoint in `note`, signed by one of `log_keys`. Raises `Malformed`, `Broken` (`checkpoint`)."""
    signed = read_note(note)
    checkpoint = parse(signed.text)
    for key in log_keys:
        if key.name == checkpoint.origin and key.type is KeyType.ED25519:
            for signature in signed.by(key):
                try:
                    keys.verify(key.public, signature.signature, signed.text.encode())
                except Forged as error:
                    raise Broken(
                        "The checkpoint's signature does not fit the log key you gave: it was altered, or is of another log.",
                        code="checkpoint",
                    ) from error
                return checkpoint
    raise Broken(
        f"The checkpoint of {checkpoint.origin} is not signed by the log key you gave: it is of another log, or the key is wrong.",
        code="checkpoint",
        origin=checkpoint.origin,
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

    Raises `Broken` (`cosignature`) when a line bears its name and key and does not verify: a note with a false line is refused as
    a whole (C2SP signed-note, Verifying).
    """
    times = []
    for line in note.by(cosigner):
        try:
            found = read_cosignature(line.signature)
            keys.verify(cosigner.public, found.signature, cosignature_message(found.time, note.text))
        except (Forged, Malformed) as error:
            raise Broken(
                f"A cosignature in the name of {cosigner.name} does not fit the checkpoint: it was altered, or made for another one.",
                code="cosignature",
                cosigner=cosigner.name,
            ) from error
        times.append(found.time)
    return max(times, default=None)


def print_line(signature: NoteSignature) -> str:
    """One signature line, as it stands in a note."""
    return print_note(SignedNote("\n", (signature,))).removeprefix("\n\n")
