"""See README.md beside this."""

from __future__ import annotations

from dataclasses import replace

from bailee.ledger.base64url import b64u
from bailee.verify.bundle import Bundle
from log_simulator import LogSimulator
from spoiling import changed

_DEEP = "[" * 60_000


def bundle(town: LogSimulator, variant: str) -> Bundle:
    """Sixty thousand opened brackets."""
    if variant == "entry":
        return changed(town.bundle(), 0, lambda e: replace(e, text=_DEEP))
    return changed(town.bundle(), 0, lambda e: replace(e, disclosures=(b64u(_DEEP.encode()),)))
