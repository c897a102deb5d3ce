"""See README.md beside this."""

from __future__ import annotations

from bailee.verify.bundle import Bundle
from log_simulator import LogSimulator
from spoiling import without_chain

TOLD = "collected"


def bundle(town: LogSimulator) -> Bundle:
    """The laboratory's chain is not in the file."""
    return without_chain(town.bundle(), "org/quill-lab")
