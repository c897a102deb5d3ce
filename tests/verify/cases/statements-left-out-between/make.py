"""See README.md beside this."""

from __future__ import annotations

from bailee.ledger.base64url import b64u
from bailee.verify.bundle import Bundle
from builders import ANALYST, CLERK
from log_simulator import LogSimulator
from spoiling import keep, log_it

_NOT_HERE = b64u(bytes(32))


def bundle(town: LogSimulator, variant: str) -> Bundle:
    """The clerk's count jumps by four; or by four and by three, and the analyst's begins with its third."""
    town.device(CLERK).seq += 3
    once = log_it(town, keep(town, prev=_NOT_HERE))
    if variant == "once":
        return once
    town.device(CLERK).seq += 2
    log_it(town, keep(town, prev=_NOT_HERE))
    town.device(ANALYST).seq += 2
    return log_it(town, keep(town, ANALYST, prev=_NOT_HERE))
