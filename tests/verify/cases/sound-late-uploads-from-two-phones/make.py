"""See README.md beside this."""

from __future__ import annotations

from bailee.verify.bundle import Bundle
from builders import DAY, SECOND_INSPECTOR
from log_simulator import LogSimulator

TOLD = "opened"


def bundle(town: LogSimulator) -> Bundle:
    """Three runs on two phones, uploaded together, the second first."""
    uploaded = f"{DAY}T11:00:00-05:00"
    town.collected(1, by=SECOND_INSPECTOR, after=None, rec=uploaded)
    town.collected(0, after=None, rec=uploaded)
    town.collected(2, "outdoor", rec=uploaded)
    return town.bundle()
