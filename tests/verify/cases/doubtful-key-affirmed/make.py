"""See README.md beside this."""

from __future__ import annotations

from bailee.signing import signed_statement
from bailee.verify.bundle import Bundle
from builders import CLERK, DAY, INSPECTOR
from log_simulator import LogSimulator
from spoiling import index_of, log_it

TOLD = "shipped"


def bundle(town: LogSimulator) -> Bundle:
    """The clerk's last statement is in doubt, and affirmed."""
    shipped = town.log[index_of(town, 10)].entry
    seq = signed_statement.read(shipped.stmt).claims.seq
    rec = "2026-12-02T08:00:00-05:00"
    town.revoked(CLERK, since=f"{DAY}T12:00:00-05:00", last_good_seq=seq - 1, rec=rec)
    data = {"statements": [signed_statement.digest(shipped.stmt)]}
    said = "2026-12-02T09:00:00-05:00"
    return log_it(town, town.signed(INSPECTOR, f"form/{town.form}", "affirmed", data, said=said))
