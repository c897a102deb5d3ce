"""See README.md beside this."""

from __future__ import annotations

from bailee.verify.bundle import Bundle
from builders import CLERK, DAY
from log_simulator import LogSimulator
from spoiling import LATER, log_it


def bundle(town: LogSimulator) -> Bundle:
    """What the clerk said about another form is logged on this one."""
    data = {"secured": "locked", "where": "office", "since": f"{DAY}T16:00:00-05:00"}
    return log_it(town, town.signed(CLERK, f"form/{town.number('form')}", "held", data, said=LATER))
