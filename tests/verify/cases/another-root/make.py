"""See README.md beside this."""

from __future__ import annotations

from bailee.verify.bundle import Bundle
from bailee.verify.verifier import Trust
from log_simulator import LogSimulator, seeded


def bundle(town: LogSimulator) -> Bundle:
    """A sound file."""
    return town.bundle()


def brings(town: LogSimulator) -> Trust:
    """The auditor knows the firm by another root."""
    return town.trust(harrow=seeded("impostor").kid)
