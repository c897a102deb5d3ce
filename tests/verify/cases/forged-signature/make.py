"""See README.md beside this."""

from __future__ import annotations

from bailee.verify.bundle import Bundle
from log_simulator import LogSimulator
from spoiling import changed, forged, index_of, with_statement


def bundle(town: LogSimulator) -> Bundle:
    """The last entry carries the signature of another key."""
    return changed(town.bundle(), index_of(town, 12), lambda e: with_statement(e, forged))
