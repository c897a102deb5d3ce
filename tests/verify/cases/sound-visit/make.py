"""See README.md beside this."""

from __future__ import annotations

from typing import cast

from bailee.verify.bundle import Bundle
from builders import Step
from log_simulator import LogSimulator, told


def bundle(town: LogSimulator, variant: str) -> Bundle:
    """Two indoor cassettes and one outdoor, from one lot, told up to a step."""
    return told(cast("Step", variant)).bundle()
