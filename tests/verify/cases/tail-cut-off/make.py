"""See README.md beside this."""

from __future__ import annotations

from bailee.verify.bundle import Bundle
from log_simulator import LogSimulator
from spoiling import index_of, without


def bundle(town: LogSimulator, variant: str) -> Bundle:
    """The decision, or everything after sealing, is left out."""
    last = {"the decision": 12, "everything after sealing": 10}[variant]
    return without(town.bundle(), *(index_of(town, n) for n in range(last, 13)))
