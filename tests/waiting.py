"""Waiting for a state, never for a time: how fast a machine is decides no test.

What never comes about is ended by pytest's own limit.
"""

from __future__ import annotations

import time
from collections.abc import Callable


def until(holds: Callable[[], object], every_s: float = 0.02) -> None:
    """Return as soon as it holds."""
    while not holds():
        time.sleep(every_s)
