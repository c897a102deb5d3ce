"""See README.md beside this."""

from __future__ import annotations

from bailee.verify.bundle import Bundle
from builders import INSPECTOR
from log_simulator import LogSimulator
from spoiling import LATER, without


def bundle(town: LogSimulator) -> Bundle:
    """The newest entry of the firm's chain, which revokes the inspector's key, is left out."""
    town.revoked(INSPECTOR, since=LATER, last_good_seq=0)
    return without(town.bundle(), len(town.log) - 1)
