"""See README.md beside this."""

from __future__ import annotations

from bailee.verify.bundle import Bundle
from log_simulator import LogSimulator
from spoiling import keep, log_it


def bundle(town: LogSimulator) -> Bundle:
    """A statement for the test ledger is logged."""
    return log_it(town, keep(town, aud="ledger.example/test"))
