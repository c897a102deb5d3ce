"""See README.md beside this."""

from __future__ import annotations

from bailee.verify.bundle import Bundle
from builders import CLERK
from log_simulator import LogSimulator
from spoiling import keep


def bundle(town: LogSimulator) -> Bundle:
    """The clerk's device signed two texts under one count; only the one in the log is in the file."""
    device = town.device(CLERK)
    seq, prev = device.seq, device.prev
    town.append(f"form/{town.form}", keep(town))
    device.seq, device.prev = seq, prev
    keep(town, said="2026-12-02T12:01:00-06:00")
    return town.bundle()
