"""See README.md beside this."""

from __future__ import annotations

from bailee.verify.bundle import Bundle
from builders import FIRM, ROOT, Person
from log_simulator import LogSimulator
from spoiling import enrollment, keep, log_it


def bundle(town: LogSimulator) -> Bundle:
    """A statement is logged, and the enrollment of its key after it."""
    late = Person(FIRM, "clerk", "Late")
    log_it(town, keep(town, late))
    town.append(f"org/{FIRM}", enrollment(town, late, ROOT))
    return town.bundle()
