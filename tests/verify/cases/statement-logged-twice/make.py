"""See README.md beside this."""

from __future__ import annotations

from bailee.verify.bundle import Bundle
from log_simulator import LogSimulator
from spoiling import index_of, log_it


def bundle(town: LogSimulator) -> Bundle:
    """Entry 8's statement is logged again as entry 13."""
    return log_it(town, town.log[index_of(town, 8)].entry.stmt)
