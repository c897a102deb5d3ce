"""See README.md beside this."""

from __future__ import annotations

from bailee.ledger.base64url import b64u
from bailee.verify.bundle import Bundle
from log_simulator import LogSimulator
from spoiling import keep, log_it


def bundle(town: LogSimulator) -> Bundle:
    """The newest statement refers to one nobody has."""
    return log_it(town, keep(town, refs=(b64u(bytes(32)),)))
