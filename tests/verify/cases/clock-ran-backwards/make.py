"""See README.md beside this."""

from __future__ import annotations

from bailee.domain.moments import Moment
from bailee.verify.bundle import Bundle
from builders import DAY
from log_simulator import LogSimulator
from spoiling import keep, log_it


def bundle(town: LogSimulator) -> Bundle:
    """The newest statement claims nine o'clock of the day before."""
    return log_it(town, keep(town, iat=Moment.parse(f"{DAY}T09:00:00-05:00").epoch_seconds))
