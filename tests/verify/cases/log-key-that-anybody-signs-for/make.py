"""See README.md beside this."""

from __future__ import annotations

from dataclasses import replace

from bailee.ledger.checkpoint import KeyType, NoteSignature, SignedNote, VerifierKey, print_note, read_note
from bailee.verify.bundle import Bundle
from bailee.verify.verifier import Trust
from log_simulator import ORIGIN, LogSimulator
from spoiling import WeakKey, cosigners

_LOG = VerifierKey(ORIGIN, KeyType.ED25519, WeakKey.public)
_COSIGNER = VerifierKey("lab.example/cosigner", KeyType.COSIGNATURE_V1, WeakKey.public)


def bundle(town: LogSimulator, variant: str) -> Bundle:
    """Checkpoint and ends, or a cosignature, signed without any private key."""
    sound = town.bundle()
    made = WeakKey().sign(b"")
    if variant == "cosigner":
        line = NoteSignature(_COSIGNER.name, _COSIGNER.key_id, bytes(8) + made)
        return replace(sound, note=print_note(read_note(sound.note).with_signatures([line])))
    line = NoteSignature(ORIGIN, _LOG.key_id, made)
    note, ends = (print_note(SignedNote(read_note(each).text, (line,))) for each in (sound.note, sound.ends))
    return replace(sound, note=note, ends=ends)


def brings(town: LogSimulator, variant: str) -> Trust:
    """The key that the auditor was given."""
    if variant == "cosigner":
        return replace(cosigners(town, 1, "firm"), cosigners={"lab": _COSIGNER})
    return replace(town.trust(), log_keys=(_LOG,))
