"""See README.md beside this."""

from __future__ import annotations

from bailee.ledger.base64url import b64u
from bailee.verify.bundle import Bundle
from bailee.verify.verifier import Trust
from log_simulator import LogSimulator, seeded
from spoiling import keep, log_it


def bundle(town: LogSimulator, variant: str) -> Bundle:
    """A sound file, or one that has a forged signature besides."""
    if variant == "sound":
        return town.bundle()
    header, payload, _ = keep(town).split(".")
    return log_it(town, f"{header}.{payload}.{b64u(seeded('forger').sign(b'-'))}")


def brings(town: LogSimulator, variant: str) -> Trust:
    """The auditor knows the firm by another root."""
    return town.trust(harrow=seeded("impostor").kid)
