"""See README.md beside this."""

from __future__ import annotations

from dataclasses import replace

from bailee.ledger.checkpoint import NoteSignature, SignedNote, print_note, read_note
from bailee.signing import notes
from bailee.verify.bundle import Bundle
from log_simulator import LogSimulator, seeded


def bundle(town: LogSimulator, variant: str) -> Bundle:
    """A second line beneath that of the log, by the log's key or by one that nobody knows."""
    sound = town.bundle()
    if variant == "where chains end":
        return replace(sound, ends=_with(town, sound.ends, of_another=True))
    return replace(sound, note=_with(town, sound.note, of_another=variant == "by another key"))


def _with(town: LogSimulator, text: str, *, of_another: bool) -> str:
    signed = read_note(text)
    line = signed.signatures[0]
    if of_another:
        key = seeded("another operator")
        name = notes.verifier_key(town.origin, key)
        line = NoteSignature(name.name, name.key_id, key.sign(signed.text.encode()))
    return print_note(SignedNote(signed.text, (*signed.signatures, line)))
