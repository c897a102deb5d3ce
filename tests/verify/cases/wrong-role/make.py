"""See README.md beside this."""

from __future__ import annotations

from bailee.verify.bundle import Bundle
from builders import ANALYST
from log_simulator import LogSimulator
from spoiling import LATER, log_it


def bundle(town: LogSimulator) -> Bundle:
    """The analyst rejects a sample."""
    data = {"samples": town.samples[:1], "at": LATER, "reasons": ["other"]}
    return log_it(town, town.signed(ANALYST, f"form/{town.form}", "rejected", data, said=LATER))
