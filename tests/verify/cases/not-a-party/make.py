"""See README.md beside this."""

from __future__ import annotations

from bailee.verify.bundle import Bundle
from builders import LAB_QUALITY
from log_simulator import LogSimulator
from spoiling import LATER


def bundle(town: LogSimulator) -> Bundle:
    """The laboratory recalls the firm's lot."""
    chain = f"lot/{town.lots[0]}"
    town.append(chain, town.signed(LAB_QUALITY, chain, "recalled", {"reason": "other"}, said=LATER))
    return town.bundle()
