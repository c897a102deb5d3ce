"""See README.md beside this."""

from __future__ import annotations

from dataclasses import replace

from bailee.verify.bundle import Bundle
from builders import CLERK
from log_simulator import LogSimulator
from spoiling import keep


def bundle(town: LogSimulator) -> Bundle:
    """The clerk's device signs two texts under one count; the second was refused."""
    device = town.device(CLERK)
    seq, prev = device.seq, device.prev
    first = keep(town)
    town.append(f"form/{town.form}", first)
    device.seq, device.prev = seq, prev
    return replace(town.bundle(), conflicts=((first, keep(town, said="2026-12-02T12:01:00-06:00")),))
