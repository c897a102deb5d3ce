"""See README.md beside this."""

from __future__ import annotations

from bailee.verify.bundle import Bundle
from log_simulator import LogSimulator

TOLD = "sealed"


def bundle(town: LogSimulator) -> Bundle:
    """The opening has a private field of the name that the verifier gives its own verdict."""
    town.opened(disclosed={"Records": "complete and cosigned"})
    return town.bundle()
