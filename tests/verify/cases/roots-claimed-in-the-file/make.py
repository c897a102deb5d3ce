"""See README.md beside this."""

from __future__ import annotations

from dataclasses import replace

from bailee.verify.bundle import Bundle
from bailee.verify.verifier import Trust
from log_simulator import LogSimulator, seeded


def bundle(town: LogSimulator) -> Bundle:
    """The file names an impostor's key as root of both organizations."""
    sound = town.bundle()
    return replace(sound, roots={org: seeded("impostor").kid for org in sound.roots})


def brings(town: LogSimulator) -> Trust:
    """Nothing but the log's key."""
    return Trust({}, (town.log_vkey,))
