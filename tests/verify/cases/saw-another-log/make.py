"""See README.md beside this."""

from __future__ import annotations

from bailee.ledger.base64url import b64u
from bailee.signing.signed_statement import Seen
from bailee.verify.bundle import Bundle
from log_simulator import LogSimulator
from spoiling import keep, log_it


def bundle(town: LogSimulator, variant: str) -> Bundle:
    """The newest statement had seen another root at a size this log had, or the same root in another
    spelling.
    """
    seen = town.seen()
    assert seen
    alphabet = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_"
    other = seen.root[:-1] + alphabet[alphabet.index(seen.root[-1]) ^ 1]
    saw = {
        "of this size": Seen(seen.size, b64u(bytes(32))),
        "of no size": Seen(0, b64u(bytes(32))),
        "in another spelling": Seen(seen.size, other),
    }[variant]
    return log_it(town, keep(town, seen=saw))
