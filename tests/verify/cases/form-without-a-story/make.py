"""See README.md beside this."""

from __future__ import annotations

from dataclasses import replace

from bailee.verify.bundle import Bundle
from log_simulator import LogSimulator
from spoiling import without_chain


def bundle(town: LogSimulator, variant: str) -> Bundle:
    """The form's chain is left out, or nothing is left but one unreadable entry."""
    sound = town.bundle()
    if variant == "no entry of the form":
        return without_chain(sound, "form/")
    return replace(sound, entries=(replace(sound.entries[0], text="nothing"),))
