"""See README.md beside this."""

from __future__ import annotations

from bailee.verify.bundle import Bundle
from log_simulator import LogSimulator
from spoiling import without_chain


def bundle(town: LogSimulator) -> Bundle:
    """The laboratory's chain is left out."""
    return without_chain(town.bundle(), "org/quill-lab")
