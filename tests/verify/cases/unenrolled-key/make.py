"""See README.md beside this."""

from __future__ import annotations

from bailee.verify.bundle import Bundle
from builders import FIRM, Person
from log_simulator import LogSimulator
from spoiling import keep, log_it


def bundle(town: LogSimulator) -> Bundle:
    """A stranger in the firm's name keeps the cassettes."""
    return log_it(town, keep(town, Person(FIRM, "clerk", "Stranger")))
