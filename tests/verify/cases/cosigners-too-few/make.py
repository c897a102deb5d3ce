"""See README.md beside this."""

from __future__ import annotations

from bailee.verify.bundle import Bundle
from bailee.verify.verifier import Trust
from log_simulator import LogSimulator
from spoiling import cosigned, cosigners

_ASKED = {
    "none signed": ((), 1, ("lab", "firm", "notary")),
    "one of two": (("lab",), 2, ("lab", "firm", "notary")),
    "signed by others": (("lab", "firm"), 1, ("notary",)),
    "nobody named": (("lab", "firm", "notary"), 0, ()),
}


def bundle(town: LogSimulator, variant: str) -> Bundle:
    """Fewer lines than are asked for."""
    return cosigned(town.bundle(), *_ASKED[variant][0])


def brings(town: LogSimulator, variant: str) -> Trust:
    """Whom the auditor names, and how many of them."""
    _, quorum, named = _ASKED[variant]
    return cosigners(town, quorum, *named)
