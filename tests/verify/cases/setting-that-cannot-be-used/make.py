"""See README.md beside this."""

from __future__ import annotations

from bailee.verify.bundle import Bundle
from builders import FIRM, ROOT, WEEK
from log_simulator import LogSimulator
from spoiling import LATER


def bundle(town: LogSimulator, variant: str) -> Bundle:
    """The firm asks for `nine` cassettes, or works in a zone that there is not."""
    days = {"zone": "America/Nowhere", "hours": WEEK, "closed": [], "years": [2026]}
    act, data = {
        "policy": ("policy_set", {"policy": {"edition": 1, "min_cassettes": "nine"}}),
        "calendar": ("calendar_set", {"which": "office", "calendar": days}),
    }[variant]
    town.append(f"org/{FIRM}", town.signed(ROOT, f"org/{FIRM}", act, data, said=LATER))
    return town.bundle()
