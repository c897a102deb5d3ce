"""See README.md beside this."""

from __future__ import annotations

from bailee.ledger.checkpoint import KeyType, VerifierKey
from bailee.verify.bundle import Bundle
from bailee.verify.verifier import Trust
from log_simulator import LogSimulator, seeded


def bundle(town: LogSimulator, variant: str) -> Bundle:
    """A sound file."""
    return town.bundle()


def brings(town: LogSimulator, variant: str) -> Trust:
    """The log's key and another."""
    other = VerifierKey("x.example/log", KeyType.ED25519, seeded("x").public)
    keys = (town.log_vkey, other)
    return Trust(town.trust().roots, keys if variant == "first" else keys[::-1])
