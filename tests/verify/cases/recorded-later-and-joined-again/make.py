"""See README.md beside this."""

from __future__ import annotations

from dataclasses import replace

from bailee.ledger import entry as entries
from bailee.verify.bundle import Bundle
from log_simulator import LogSimulator
from spoiling import index_of


def bundle(town: LogSimulator) -> Bundle:
    """The fourth entry gets a later recorded time, the chain is joined, the tree built anew."""
    index = index_of(town, 4)
    found = town.log[index].entry
    town.rewrite(index, entries.write(replace(found, rec="2026-12-01T14:49:00.000Z")))
    town.rechain(index)
    return town.bundle()
