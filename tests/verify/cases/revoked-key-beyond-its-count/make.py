"""See README.md beside this."""

from __future__ import annotations

from bailee.verify.bundle import Bundle
from builders import CLERK, DAY
from log_simulator import LogSimulator
from spoiling import keep, log_it


def bundle(town: LogSimulator) -> Bundle:
    """The clerk's key was revoked up to its last statement, and speaks again."""
    town.revoked(CLERK, since=f"{DAY}T18:00:00-05:00", last_good_seq=town.device(CLERK).seq)
    return log_it(town, keep(town))
