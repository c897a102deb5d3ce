"""See README.md beside this."""

from __future__ import annotations

from bailee.ledger.base64url import b64u
from bailee.verify.bundle import Bundle
from builders import CLERK
from log_simulator import LogSimulator
from spoiling import keep, log_it


def bundle(town: LogSimulator) -> Bundle:
    """The clerk's count jumps by four."""
    town.device(CLERK).seq += 3
    return log_it(town, keep(town, prev=b64u(bytes(32))))
