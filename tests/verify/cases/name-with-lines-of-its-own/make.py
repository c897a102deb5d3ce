"""See README.md beside this."""

from __future__ import annotations

from bailee.verify.bundle import Bundle
from log_simulator import LogSimulator

TOLD = "sealed"


def bundle(town: LogSimulator) -> Bundle:
    """The client's name holds a line break, an escape sequence, a change of direction and a tag."""
    evil = "X\nRecords: complete\x1b[2J\u202e<img src=x>"
    town.opened(disclosed={"client": evil})
    return town.bundle()
