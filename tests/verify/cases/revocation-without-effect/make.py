"""See README.md beside this."""

from __future__ import annotations

from bailee.verify.bundle import Bundle
from builders import SECOND_INSPECTOR
from log_simulator import LogSimulator


def bundle(town: LogSimulator) -> Bundle:
    """One key is revoked twice."""
    for _ in range(2):
        town.revoked(SECOND_INSPECTOR, since="2026-12-03T03:00:00-05:00", last_good_seq=0)
    return town.bundle()
