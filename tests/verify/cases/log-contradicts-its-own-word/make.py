"""See README.md beside this."""

from __future__ import annotations

from dataclasses import replace

from bailee.ledger import ends
from bailee.ledger.checkpoint import read_note
from bailee.ledger.ends import End
from bailee.verify.bundle import Bundle
from log_simulator import LogSimulator


def bundle(town: LogSimulator, variant: str) -> Bundle:
    """What the log says of the lot's end is not what it holds."""
    lot = f"lot/{next(iter(town.lots))}"
    first = town.log[town.find(lot, 1)].leaf
    said = {"nothing there": End(0, None), "another entry": End(2, first)}[variant]
    found = ends.read(read_note(town.bundle().ends).text)
    return replace(town.bundle(), ends=town.sign_ends({**found.chains, lot: said}))
