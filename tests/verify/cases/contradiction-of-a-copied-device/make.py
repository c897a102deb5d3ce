"""See README.md beside this."""

from __future__ import annotations

from dataclasses import replace

from bailee.verify.bundle import Bundle
from builders import CLERK
from log_simulator import LogSimulator
from spoiling import keep


def bundle(town: LogSimulator, variant: str) -> Bundle:
    """The clerk's device signs two texts under one count, and may go on from the second.

    The log knows the first alone.
    """
    device = town.device(CLERK)
    seq, prev = device.seq, device.prev
    first = keep(town)
    town.append(f"form/{town.form}", first)
    device.seq, device.prev = seq, prev
    other = keep(town, said="2026-12-02T12:01:00-06:00")
    goes_on = keep(town, said="2026-12-02T12:02:00-06:00")
    pair = {
        "one count for two texts": (first, other),
        "a count that goes on from another text": (first, goes_on),
        "the later of them first": (goes_on, first),
    }
    return replace(town.bundle(), conflicts=(pair[variant],))
