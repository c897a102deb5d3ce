"""See README.md beside this."""

from __future__ import annotations

from dataclasses import replace

from bailee.ledger.checkpoint import print_note, read_note
from bailee.signing import notes
from bailee.verify.bundle import Bundle
from bailee.verify.verifier import Trust
from log_simulator import LogSimulator
from spoiling import TIME, cosigned, cosigner, cosigners


def bundle(town: LogSimulator) -> Bundle:
    """The laboratory's cosigner signed twice, a minute apart."""
    once = cosigned(town.bundle(), "lab")
    note = read_note(once.note)
    later = notes.cosign(note.text, "lab.example/cosigner", cosigner("lab"), TIME + 60)
    return replace(once, note=print_note(note.with_signatures([later])))


def brings(town: LogSimulator) -> Trust:
    """Two cosigners are asked for."""
    return cosigners(town, 2, "lab", "firm", "notary")
