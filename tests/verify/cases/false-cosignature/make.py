"""See README.md beside this."""

from __future__ import annotations

from dataclasses import replace

from bailee.ledger.checkpoint import print_note, read_note
from bailee.verify.bundle import Bundle
from bailee.verify.verifier import Trust
from log_simulator import LogSimulator
from spoiling import TIME, cosigned, cosigner, cosigners


def bundle(town: LogSimulator, variant: str) -> Bundle:
    """A line in the laboratory's name: over another text, by another key, or with a changed time."""
    sound = town.bundle()
    note = read_note(sound.note)
    if variant == "over another text":
        return cosigned(sound, "lab", text=note.text.replace("\n", "\n1", 1))
    if variant == "by another key":
        return cosigned(sound, "lab", by=cosigner("firm"))
    line = read_note(cosigned(sound, "lab").note).signatures[-1]
    later = replace(line, signature=(TIME + 1).to_bytes(8, "big") + line.signature[8:])
    return replace(sound, note=print_note(note.with_signatures([later])))


def brings(town: LogSimulator, variant: str) -> Trust:
    """One cosigner is asked for."""
    return cosigners(town, 1, "lab", "firm", "notary")
