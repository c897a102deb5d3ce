"""See README.md beside this."""

from __future__ import annotations

from bailee.verify.bundle import Bundle
from builders import CLERK
from log_simulator import LogSimulator
from spoiling import LATER, log_it


def bundle(town: LogSimulator) -> Bundle:
    """The clerk says that something was `teleported`."""
    return log_it(town, town.signed(CLERK, f"form/{town.form}", "teleported", {}, said=LATER))
