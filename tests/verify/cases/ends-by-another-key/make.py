"""See README.md beside this."""

from __future__ import annotations

from dataclasses import replace

from bailee.ledger import ends
from bailee.ledger.checkpoint import read_note
from bailee.ledger.ends import End
from bailee.signing import notes
from bailee.verify.bundle import Bundle
from log_simulator import LogSimulator, seeded
from spoiling import index_of, replaced, without


def bundle(town: LogSimulator, variant: str) -> Bundle:
    """The decision is left out, and the chain is said to end before it."""
    cut = without(town.bundle(), index_of(town, 12))
    before = town.log[index_of(town, 11)]
    if variant == "altered":
        return replace(
            cut, ends=replaced(cut.ends, f"12 {town.log[index_of(town, 12)].leaf}", f"11 {before.leaf}")
        )
    if variant == "no note":
        return replace(cut, ends="")
    found = ends.read(read_note(cut.ends).text)
    short = replace(found, chains={**found.chains, f"form/{town.form}": End(11, before.leaf)})
    return replace(cut, ends=notes.sign_ends(short, seeded("forger")))
