"""See README.md beside this."""

from __future__ import annotations

from bailee.verify.bundle import Bundle
from log_simulator import LogSimulator
from spoiling import forged, keep, log_it


def bundle(town: LogSimulator) -> Bundle:
    """A statement with another key's signature is logged."""
    return log_it(town, forged(keep(town)))
