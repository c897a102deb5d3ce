"""See README.md beside this."""

from __future__ import annotations

from dataclasses import replace

from bailee.verify.bundle import Bundle
from builders import CLERK, SECOND_CUSTODIAN
from log_simulator import LogSimulator
from spoiling import keep, other_laboratory


def bundle(town: LogSimulator, variant: str) -> Bundle:
    """Two texts under one count, by a key that nothing here leads to, or by the clerk's after its end."""
    by = CLERK if variant == "of a key that has ended" else SECOND_CUSTODIAN
    if by is not CLERK:
        other_laboratory(town)
    device = town.device(by)
    seq, prev = device.seq, device.prev
    first = keep(town, by)
    if by is CLERK:
        town.append(f"form/{town.form}", first)
        town.revoked(CLERK, since="2026-12-02T13:00:00-05:00", last_good_seq=device.seq)
    device.seq, device.prev = seq, prev
    return replace(town.bundle(), conflicts=((first, keep(town, by, said="2026-12-02T12:01:00-06:00")),))
