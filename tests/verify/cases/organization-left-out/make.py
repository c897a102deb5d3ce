"""See README.md beside this."""

from __future__ import annotations

from dataclasses import replace

from bailee.verify.bundle import Bundle
from log_simulator import LogSimulator
from spoiling import without_chain


def bundle(town: LogSimulator, variant: str) -> Bundle:
    """The laboratory's chain is left out, with or without the log's word on it."""
    lab = "org/quill-lab"
    without = without_chain(town.bundle(), lab)
    if variant == "by whoever passes it on":
        return without
    return replace(without, ends=town.ends(*(town.leaned_on(town.form) - {lab})))
