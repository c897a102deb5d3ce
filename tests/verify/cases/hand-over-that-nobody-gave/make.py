"""See README.md beside this."""

from __future__ import annotations

from bailee.verify.bundle import Bundle
from log_simulator import LogSimulator

TOLD = "held"


def bundle(town: LogSimulator) -> Bundle:
    """The clerk receives what the inspector never gave."""
    town.received(town.samples)
    return town.bundle()
