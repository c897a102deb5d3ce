"""See README.md beside this."""

from __future__ import annotations

from dataclasses import replace

from bailee.ledger.checkpoint import KeyType
from bailee.verify.bundle import Bundle
from bailee.verify.verifier import Trust
from log_simulator import LogSimulator


def bundle(town: LogSimulator, variant: str) -> Bundle:
    """A sound file."""
    return town.bundle()


def brings(town: LogSimulator, variant: str) -> Trust:
    """No key; the key of a cosigner in its place; the key of a log of another name."""
    own = town.log_vkey
    keys = {
        "none": (),
        "a cosigner's": (replace(own, type=KeyType.COSIGNATURE_V1),),
        "another log's": (replace(own, name="x.example/log"),),
    }[variant]
    return Trust(town.trust().roots, keys)
