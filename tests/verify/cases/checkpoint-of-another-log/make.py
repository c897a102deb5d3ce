"""See README.md beside this."""

from __future__ import annotations

from dataclasses import replace

from bailee.verify.bundle import Bundle
from log_simulator import LogSimulator


def bundle(town: LogSimulator) -> Bundle:
    """The checkpoint of a log with another origin is put in."""
    return replace(town.bundle(), note=LogSimulator(origin="ledger.example/log2").note())
