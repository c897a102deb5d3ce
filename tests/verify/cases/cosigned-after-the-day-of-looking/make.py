"""See README.md beside this."""

from __future__ import annotations

from dataclasses import replace

from bailee.ledger.checkpoint import print_note, read_note
from bailee.signing import notes
from bailee.verify.bundle import Bundle
from bailee.verify.verifier import Trust
from log_simulator import AT, LogSimulator
from spoiling import cosigner, cosigner_vkey, cosigners


def bundle(town: LogSimulator, variant: str) -> Bundle:
    """The laboratory's cosigner says a time that is ahead of the auditor's."""
    sound, vkey = town.bundle(), cosigner_vkey("lab")
    note = read_note(sound.note)
    time = AT.epoch_seconds + {"five minutes": 300, "more": 301}[variant]
    line = notes.cosign(note.text, vkey.name, cosigner("lab"), time)
    return replace(sound, note=print_note(note.with_signatures([line])))


def brings(town: LogSimulator, variant: str) -> Trust:
    """One cosigner is asked for."""
    del variant
    return cosigners(town, 1, "lab")
