"""See README.md beside this."""

from __future__ import annotations

from bailee.verify.bundle import Bundle
from log_simulator import LogSimulator
from spoiling import index_of, without


def bundle(town: LogSimulator) -> Bundle:
    """The opening is left out."""
    return without(town.bundle(), index_of(town, 1))
