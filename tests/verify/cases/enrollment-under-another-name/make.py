"""See README.md beside this."""

from __future__ import annotations

from bailee.verify.bundle import Bundle
from builders import CLERK, FIRM, ROOT, Person
from log_simulator import LogSimulator
from spoiling import enrollment


def bundle(town: LogSimulator) -> Bundle:
    """A key is enrolled under the thumbprint of the clerk's."""
    newcomer = Person(FIRM, "clerk", "Newcomer")
    town.append(f"org/{FIRM}", enrollment(town, newcomer, ROOT, kid=town.device(CLERK).key.kid))
    return town.bundle()
