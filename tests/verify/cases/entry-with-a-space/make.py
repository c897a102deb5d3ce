"""See README.md beside this."""

from __future__ import annotations

from dataclasses import replace

from bailee.verify.bundle import Bundle
from log_simulator import LogSimulator
from spoiling import changed, index_of, replaced


def bundle(town: LogSimulator) -> Bundle:
    """One space after a colon: the same JSON, other bytes."""
    return changed(
        town.bundle(), index_of(town, 5), lambda e: replace(e, text=replaced(e.text, '"n":5', '"n": 5'))
    )
