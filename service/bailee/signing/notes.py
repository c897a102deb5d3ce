"""Signing and verifying checkpoints: C2SP signed-note with Ed25519 (type 0x01)."""

from __future__ import annotations

from collections.abc import Iterable

from bailee.errors import Broken, Forged
from bailee.ledger.checkpoint import (
    Checkpoint,
    KeyType,
    NoteSignature,
    SignedNote,
    VerifierKey,
    parse,
    print_note,
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
