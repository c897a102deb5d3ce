"""See README.md beside this."""

from __future__ import annotations

from bailee.verify.bundle import Bundle
from builders import CLERK
from log_simulator import LogSimulator
from spoiling import keep, log_it


def bundle(town: LogSimulator) -> Bundle:
    """One statement arrives after the revocation, within its count."""
    town.revoked(CLERK, since="2026-12-02T10:00:00-05:00", last_good_seq=town.device(CLERK).seq + 1)
    return log_it(town, keep(town))
