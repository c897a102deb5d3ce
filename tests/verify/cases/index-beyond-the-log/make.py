"""See README.md beside this."""

from __future__ import annotations

from dataclasses import replace

from bailee.verify.bundle import Bundle
from log_simulator import LogSimulator
from spoiling import changed, index_of


def bundle(town: LogSimulator) -> Bundle:
    """The last entry claims index 99."""
    return changed(town.bundle(), index_of(town, 12), lambda e: replace(e, index=99))
