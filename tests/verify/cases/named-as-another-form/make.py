"""See README.md beside this."""

from __future__ import annotations

from dataclasses import replace

from bailee.verify.bundle import Bundle
from log_simulator import LogSimulator


def bundle(town: LogSimulator) -> Bundle:
    """The file names a form that it does not hold."""
    return replace(town.bundle(), form=town.number("form"))
