"""See README.md beside this."""

from __future__ import annotations

from dataclasses import replace

from bailee.ledger.checkpoint import NoteSignature, cosignature_message, print_note, read_note
from bailee.verify.bundle import Bundle
from bailee.verify.verifier import Trust
from log_simulator import LogSimulator
from spoiling import cosigner, cosigner_vkey, cosigners

_TIMES = {"the year 2200": 7_258_118_400, "the year 10000": 253_402_300_800, "all bits": 2**64 - 1}


def bundle(town: LogSimulator, variant: str) -> Bundle:
    """The laboratory's cosigner signs, and its signature holds."""
    sound, time, vkey = town.bundle(), _TIMES[variant], cosigner_vkey("lab")
    note = read_note(sound.note)
    signature = cosigner("lab").sign(cosignature_message(time, note.text))
    line = NoteSignature(vkey.name, vkey.key_id, time.to_bytes(8, "big") + signature)
    return replace(sound, note=print_note(note.with_signatures([line])))


def brings(town: LogSimulator, variant: str) -> Trust:
    """One cosigner is asked for."""
    del variant
    return cosigners(town, 1, "lab", "firm", "notary")
