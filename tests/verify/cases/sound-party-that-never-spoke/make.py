"""See README.md beside this."""

from __future__ import annotations

from dataclasses import replace

from bailee.verify.bundle import Bundle
from log_simulator import LogSimulator
from spoiling import without_chain

TOLD = "collected"


def bundle(town: LogSimulator) -> Bundle:
    """The laboratory's chain is not in the file."""
    lab = "org/quill-lab"
    ends = town.ends(*town.leaned_on(town.form), never=[lab])
    return replace(without_chain(town.bundle(), lab), ends=ends)
