"""See README.md beside this."""

from __future__ import annotations

from bailee.verify.bundle import Bundle
from builders import FIRM, ROOT, Person
from log_simulator import LogSimulator
from spoiling import WeakKey, enrollment, keep, log_it


def bundle(town: LogSimulator) -> Bundle:
    """The identity point is enrolled and speaks."""
    person = Person(FIRM, "clerk", "Weak")
    town.device(person).key = WeakKey()  # type: ignore[assignment]
    town.append(f"org/{FIRM}", enrollment(town, person, ROOT))
    return log_it(town, keep(town, person))
