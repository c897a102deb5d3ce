"""See README.md beside this."""

from __future__ import annotations

from bailee.verify.bundle import Bundle
from builders import FIRM, Person
from log_simulator import LogSimulator
from spoiling import LATER


def bundle(town: LogSimulator) -> Bundle:
    """Somebody founds the firm again, at the end of its chain."""
    taker = Person(FIRM, "root", "Taker")
    data = {"name": "Harrow Field", "jwk": town.device(taker).key.jwk, "recovery": None}
    town.append(f"org/{FIRM}", town.signed(taker, f"org/{FIRM}", "founded", data, said=LATER))
    return town.bundle()
