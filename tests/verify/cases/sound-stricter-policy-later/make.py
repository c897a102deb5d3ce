"""See README.md beside this."""

from __future__ import annotations

from bailee.verify.bundle import Bundle
from builders import FIRM, Person
from log_simulator import LogSimulator


def bundle(town: LogSimulator) -> Bundle:
    """A month later the firm asks for nine cassettes."""
    root, data = Person(FIRM, "root", "Root Harrow"), {"policy": {"edition": 1, "min_cassettes": 9}}
    said = "2027-01-04T09:00:00-05:00"
    town.append(f"org/{FIRM}", town.signed(root, f"org/{FIRM}", "policy_set", data, said=said))
    return town.bundle()
