"""See README.md beside this."""

from __future__ import annotations

from bailee.verify.bundle import Bundle
from log_simulator import LogSimulator
from spoiling import index_of


def bundle(town: LogSimulator) -> Bundle:
    """The fifth entry is taken out, the chain joined, the tree built anew."""
    index = index_of(town, 5)
    town.remove(index)
    town.rechain(index)
    return town.bundle()
