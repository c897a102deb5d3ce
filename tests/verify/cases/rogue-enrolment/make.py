"""See README.md beside this."""

from __future__ import annotations

from bailee.verify.bundle import Bundle
from builders import FIRM, INSPECTOR, Person
from log_simulator import LogSimulator
from spoiling import enrolment, keep, log_it


def bundle(town: LogSimulator) -> Bundle:
    """The inspector enrols a clerk, who then speaks."""
    rogue = Person(FIRM, "clerk", "Rogue")
    town.append(f"org/{FIRM}", enrolment(town, rogue, INSPECTOR))
    return log_it(town, keep(town, rogue))
