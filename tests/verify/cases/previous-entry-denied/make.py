"""See README.md beside this."""

from __future__ import annotations

from bailee.verify.bundle import Bundle
from log_simulator import LogSimulator
from spoiling import index_of, keep, log_it


def bundle(town: LogSimulator) -> Bundle:
    """Entry 13 names entry 11 as the one before."""
    return log_it(town, keep(town), prev=town.log[index_of(town, 11)].leaf)
