"""See README.md beside this."""

from __future__ import annotations

import json

from log_simulator import LogSimulator
from spoiling import members


def bundle(town: LogSimulator) -> bytes:
    """A member more in the file, in an entry and in a tree head."""
    file = members(town)
    file["weather"] = []
    file["entries"][3]["color"] = "green"
    file["earlier"][0]["\u202e"] = None
    return json.dumps(file).encode()
