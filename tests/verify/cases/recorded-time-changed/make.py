"""See README.md beside this."""

from __future__ import annotations

from dataclasses import replace

from bailee.verify.bundle import Bundle
from log_simulator import LogSimulator
from spoiling import changed, index_of, replaced


def bundle(town: LogSimulator) -> Bundle:
    """The third entry's recorded time is moved by one second."""
    return changed(
        town.bundle(),
        index_of(town, 3),
        lambda e: replace(e, text=replaced(e.text, "14:33:05.000Z", "14:33:06.000Z")),
    )
