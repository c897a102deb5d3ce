"""See README.md beside this."""

from __future__ import annotations

from dataclasses import replace

from bailee.ledger.base64url import b64u
from bailee.verify.bundle import Bundle
from log_simulator import LogSimulator
from spoiling import changed, index_of

_FALSE = b64u(b'["AAAAAAAAAAAAAAAAAAAAAA","client","Somebody else"]')


def bundle(town: LogSimulator, variant: str) -> Bundle:
    """Another client's name; or the room of one cassette beside the statement about another."""
    if variant == "another client":
        return changed(
            town.bundle(), index_of(town, 1), lambda e: replace(e, disclosures=(*e.disclosures[1:], _FALSE))
        )
    moved = town.placed(index_of(town, 3)).disclosures
    return changed(town.bundle(), index_of(town, 2), lambda e: replace(e, disclosures=moved))
