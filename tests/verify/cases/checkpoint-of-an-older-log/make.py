"""See README.md beside this."""

from __future__ import annotations

from dataclasses import replace

from bailee.verify.bundle import Bundle
from log_simulator import LogSimulator


def bundle(town: LogSimulator) -> Bundle:
    """The checkpoint from two entries ago."""
    return replace(town.bundle(), note=town.note(len(town.log) - 2))
