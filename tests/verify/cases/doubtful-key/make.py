"""See README.md beside this."""

from __future__ import annotations

from bailee.signing import signed_statement
from bailee.verify.bundle import Bundle
from builders import CLERK, DAY
from log_simulator import LogSimulator
from spoiling import index_of

TOLD = "shipped"


def bundle(town: LogSimulator, variant: str) -> Bundle:
    """The clerk's last statement was recorded at 14:30:05 (-06:00).

    The phone was lost before, at or after that.
    """
    sealed = signed_statement.read(town.log[index_of(town, 10)].entry.stmt).claims
    since = f"{DAY}T{variant}-06:00"
    town.revoked(CLERK, since=since, last_good_seq=sealed.seq - 1, rec="2026-12-02T08:00:00-05:00")
    return town.bundle()
