"""See README.md beside this."""

from __future__ import annotations

from bailee.verify.bundle import Bundle
from log_simulator import LogSimulator
from spoiling import LATER, without


def bundle(town: LogSimulator) -> Bundle:
    """The recall is left out."""
    town.on_lot("recalled", said=LATER, reason="quality")
    return without(town.bundle(), len(town.log) - 1)
