"""See README.md beside this."""

from __future__ import annotations

from bailee.signing import signed_statement
from bailee.verify.bundle import Bundle
from builders import INSPECTOR
from log_simulator import LogSimulator
from spoiling import LATER, index_of, log_it


def bundle(town: LogSimulator) -> Bundle:
    """The inspector opens the form once more."""
    data = signed_statement.read(town.log[index_of(town, 1)].entry.stmt).claims.data
    return log_it(town, town.signed(INSPECTOR, f"form/{town.form}", "opened", data, said=LATER))
