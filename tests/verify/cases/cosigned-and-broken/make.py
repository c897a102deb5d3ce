"""See README.md beside this."""

from __future__ import annotations

from dataclasses import replace

from bailee.verify.bundle import Bundle
from bailee.verify.verifier import Trust
from log_simulator import LogSimulator
from spoiling import changed, cosigned, cosigners


def bundle(town: LogSimulator) -> Bundle:
    """Cosigned, and the first entry said to be at the second's place."""
    return changed(cosigned(town.bundle(), "lab"), 0, lambda e: replace(e, index=1))


def brings(town: LogSimulator) -> Trust:
    """One cosigner is asked for."""
    return cosigners(town, 1, "lab")
