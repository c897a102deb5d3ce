"""See README.md beside this."""

from __future__ import annotations

from dataclasses import replace

from bailee.verify.bundle import Bundle
from log_simulator import LogSimulator


def bundle(town: LogSimulator) -> Bundle:
    """The last entry stands in the file twice."""
    sound = town.bundle()
    return replace(sound, entries=(*sound.entries, sound.entries[-1]))
