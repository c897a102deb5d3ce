"""See README.md beside this."""

from __future__ import annotations

from dataclasses import replace

from bailee.verify.bundle import Bundle
from log_simulator import LogSimulator
from spoiling import forged, index_of, keep


def bundle(town: LogSimulator, variant: str) -> Bundle:
    """A pair of texts that do not contradict each other, or that the key did not sign."""
    said = [town.log[index_of(town, n)].entry.stmt for n in (7, 8, 9)]
    pair = {
        "one text twice": (said[0], said[0]),
        "one after the other": (said[0], said[1]),
        "two counts apart": (said[0], said[2]),
        "two keys": (said[0], town.log[index_of(town, 2)].entry.stmt),
        "forged": (said[0], forged(said[0])),
        "for another log": (said[0], keep(town, aud="ledger.example/test", seq=1)),
        "unreadable": (said[0], "nothing"),
    }
    return replace(town.bundle(), conflicts=(pair[variant],))
