"""See README.md beside this."""

from __future__ import annotations

from bailee.verify.bundle import Bundle
from builders import QUALITY, SECOND_INSPECTOR
from log_simulator import LogSimulator
from spoiling import LATER, without


def bundle(town: LogSimulator) -> Bundle:
    """Of two revocations the first is left out of the firm's chain."""
    town.revoked(SECOND_INSPECTOR, since=LATER, last_good_seq=0)
    index = len(town.log) - 1
    town.revoked(QUALITY, since=LATER, last_good_seq=0)
    return without(town.bundle(), index)
