"""See README.md beside this."""

from __future__ import annotations

from dataclasses import replace

from bailee.verify.bundle import Bundle
from log_simulator import LogSimulator
from spoiling import without_chain


def bundle(town: LogSimulator, variant: str) -> Bundle:
    """The lot's chain is left out, with or without the log's word on it."""
    without = without_chain(town.bundle(), "lot/")
    if variant == "by whoever passes it on":
        return without
    others = [chain for chain in town.leaned_on(town.form) if not chain.startswith("lot/")]
    return replace(without, ends=town.ends(*others))
