"""See README.md beside this."""

from __future__ import annotations

from bailee.verify.bundle import write
from log_simulator import LogSimulator

TOLD = "opened"


def bundle(town: LogSimulator, variant: str) -> bytes:
    """One bit of one byte of the file is flipped, at so many thousandths of its length."""
    file = bytearray(write(town.bundle()).encode())
    file[len(file) * int(variant) // 1000] ^= 1
    return bytes(file)
