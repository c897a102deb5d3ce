"""How often a run draws by chance: seldom in every run, and often in `sh tests/run thorough`.

    @settings(max_examples=often(30, thorough=300))

No check is missing from the short form; both draw the same on every run and every machine.
"""

from __future__ import annotations

import os
from typing import Final

THOROUGH: Final = bool(os.environ.get("BAILEE_THOROUGH"))
"""Whether this is the long form."""


def often(short: int, *, thorough: int) -> int:
    """How often something is tried in this run."""
    return thorough if THOROUGH else short
