"""See README.md beside this."""

from __future__ import annotations

from bailee.verify.bundle import Bundle
from log_simulator import LogSimulator

TOLD = "opened"


def bundle(town: LogSimulator) -> Bundle:
    """One blank, one cassette collected and voided."""
    town.collected(0, "blank")
    town.collected(1)
    town.voided(1)
    return town.bundle()
