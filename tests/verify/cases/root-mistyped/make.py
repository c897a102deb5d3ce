"""See README.md beside this."""

from __future__ import annotations

from bailee.verify.bundle import Bundle
from bailee.verify.verifier import Trust
from builders import ROOT
from log_simulator import LogSimulator


def bundle(town: LogSimulator, variant: str) -> Bundle:
    """A sound file."""
    return town.bundle()


def brings(town: LogSimulator, variant: str) -> Trust:
    """The firm's root with its seventh letter, or that and its eighth, exchanged for another one."""
    root = town.device(ROOT).key.kid
    wrong = 1 if variant == "one letter" else 2
    slip = "".join("B" if each == "A" else "A" for each in root[6 : 6 + wrong])
    return town.trust(harrow=root[:6] + slip + root[6 + wrong :])
