"""See README.md beside this."""

from __future__ import annotations

from bailee.verify.bundle import Bundle
from builders import ANALYST
from log_simulator import LogSimulator
from spoiling import LATER, keep, log_it


def bundle(town: LogSimulator, variant: str) -> Bundle:
    """The analyst rejects a sample, and may go on with something that an analyst may say."""
    data = {"samples": town.samples[:1], "at": LATER, "reasons": ["other"]}
    said = log_it(town, town.signed(ANALYST, f"form/{town.form}", "rejected", data, said=LATER))
    return log_it(town, keep(town, ANALYST)) if variant == "and goes on" else said
