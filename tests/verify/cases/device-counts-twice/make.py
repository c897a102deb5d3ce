"""See README.md beside this."""

from __future__ import annotations

from bailee.signing import signed_statement
from bailee.verify.bundle import Bundle
from builders import CLERK
from log_simulator import LogSimulator
from spoiling import index_of, keep, log_it


def bundle(town: LogSimulator) -> Bundle:
    """The clerk's device uses the count of an earlier statement once more."""
    seq = town.device(CLERK).seq
    prev = signed_statement.read(town.log[index_of(town, 10)].entry.stmt).claims.prev
    return log_it(town, keep(town, seq=seq, prev=prev))
