"""See README.md beside this."""

from __future__ import annotations

from bailee.ledger.base64url import b64u
from bailee.verify.bundle import Bundle
from builders import CLERK, DAY, FIRM, ROOT
from log_simulator import LogSimulator, seeded
from spoiling import LATER, keep, log_it

_HELD = {"secured": "locked", "where": "office", "since": f"{DAY}T16:00:00-05:00"}


def bundle(town: LogSimulator, variant: str) -> Bundle:
    """The clerk says that something was `teleported`, or a root key that somebody may speak in its place."""
    if variant == "a key that it enrolled":
        org, key = f"org/{FIRM}", seeded("later")
        data = {"kid": key.kid, "jwk": dict(key.jwk), "role": "clerk"}
        town.append(org, town.signed(ROOT, org, "delegated", data, said=LATER))
        said = town.signed(CLERK, f"form/{town.form}", "held", _HELD, said=LATER, key=key, seq=1, prev=None)
        return log_it(town, said)
    told = log_it(town, town.signed(CLERK, f"form/{town.form}", "teleported", {}, said=LATER))
    if variant == "an act":
        return told
    header, payload, _ = keep(town).split(".")
    return log_it(town, f"{header}.{payload}.{b64u(seeded('forger').sign(b'-'))}")
