"""See README.md beside this."""

from __future__ import annotations

from bailee.verify.bundle import Bundle
from builders import FIRM, Person
from log_simulator import LogSimulator
from spoiling import LATER, enrollment


def bundle(town: LogSimulator) -> Bundle:
    """Somebody founds the firm again under number 1, and enrolls a clerk of his own."""
    taker, hand = Person(FIRM, "root", "Taker"), Person(FIRM, "clerk", "Hand")
    data = {"name": "Harrow Field", "jwk": town.device(taker).key.jwk, "recovery": None}
    town.append(f"org/{FIRM}", town.signed(taker, f"org/{FIRM}", "founded", data, said=LATER), n=1)
    before = town.log[town.find(f"org/{FIRM}", 8)].leaf
    town.append(f"org/{FIRM}", enrollment(town, hand, taker), n=9, prev=before)
    return town.bundle()
