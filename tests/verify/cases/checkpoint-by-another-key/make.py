"""See README.md beside this."""

from __future__ import annotations

from dataclasses import replace

from bailee.verify.bundle import Bundle
from bailee.verify.verifier import Trust
from log_simulator import LogSimulator, seeded


def bundle(town: LogSimulator, variant: str) -> Bundle:
    """The same checkpoint, signed by another key under the same name.

    With the word on where chains end, or without it.
    """
    sound = town.bundle()
    town.log_key = seeded("another operator")
    return town.bundle() if variant == "all of another log" else replace(sound, note=town.note())


def brings(town: LogSimulator, variant: str) -> Trust:
    """The key of the log as it was published."""
    town.log_key = seeded("log", town.origin)
    return town.trust()
