"""See README.md beside this."""

from __future__ import annotations

from bailee.ledger.base64url import b64u
from bailee.verify.bundle import Bundle
from builders import SECOND_INSPECTOR
from log_simulator import LogSimulator
from spoiling import keep, log_it


def bundle(town: LogSimulator, variant: str) -> Bundle:
    """The count goes on.

    The statement before it is named falsely, or said not to exist, or invented for a new device.
    """
    none = b64u(bytes(32))
    text = {
        "names another": lambda: keep(town, prev=none),
        "begins again": lambda: keep(town, seq=40, prev=None),
        "begins with a past": lambda: keep(town, SECOND_INSPECTOR, prev=none),
    }[variant]()
    return log_it(town, text)
