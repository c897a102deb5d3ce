"""See README.md beside this."""

from __future__ import annotations

from bailee.domain.moments import Moment
from bailee.verify.bundle import Bundle
from builders import DAY
from log_simulator import LogSimulator
from spoiling import keep, log_it


def bundle(town: LogSimulator) -> Bundle:
    """The newest entry is recorded in the morning."""
    return log_it(town, keep(town), rec=Moment.parse(f"{DAY}T08:00:00-05:00"))
