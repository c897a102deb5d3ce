"""See README.md beside this."""

from __future__ import annotations

from bailee.verify.bundle import Bundle
from bailee.verify.verifier import Trust
from log_simulator import LogSimulator
from spoiling import cosigned, cosigners


def bundle(town: LogSimulator, variant: str) -> Bundle:
    """One or two cosigners signed the checkpoint."""
    return cosigned(town.bundle(), *variant.split())


def brings(town: LogSimulator, variant: str) -> Trust:
    """As many are asked for as signed."""
    return cosigners(town, len(variant.split()), "lab", "firm", "notary")
