"""See README.md beside this."""

from __future__ import annotations

from bailee.verify.bundle import Bundle
from builders import INSPECTOR
from log_simulator import LogSimulator


def bundle(town: LogSimulator) -> Bundle:
    """The inspector's phone is lost a day later."""
    seq = town.device(INSPECTOR).seq
    town.revoked(INSPECTOR, since="2026-12-03T03:00:00-05:00", last_good_seq=seq)
    return town.bundle()
