"""See README.md beside this."""

from __future__ import annotations

from bailee.verify.bundle import Bundle
from log_simulator import LogSimulator
from spoiling import index_of, keep, log_it


def bundle(town: LogSimulator) -> Bundle:
    """A second entry 12."""
    return log_it(town, keep(town), n=12, prev=town.log[index_of(town, 11)].leaf)
