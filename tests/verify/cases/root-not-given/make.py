"""See README.md beside this."""

from __future__ import annotations

from bailee.verify.bundle import Bundle
from bailee.verify.verifier import Trust
from log_simulator import LogSimulator


def bundle(town: LogSimulator) -> Bundle:
    """A sound file."""
    return town.bundle()


def brings(town: LogSimulator) -> Trust:
    """The laboratory's root is not known."""
    return town.trust(quill=None)
