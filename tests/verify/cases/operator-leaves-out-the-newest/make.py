"""See README.md beside this."""

from __future__ import annotations

from bailee.verify.bundle import Bundle
from log_simulator import LogSimulator
from spoiling import index_of


def bundle(town: LogSimulator) -> Bundle:
    """The decision is taken out of the log before anything is signed over it."""
    town.remove(index_of(town, 12))
    return town.bundle()
