"""See README.md beside this."""

from __future__ import annotations

from typing import Any

from bailee.verify.bundle import Bundle
from builders import CLERK
from log_simulator import LogSimulator
from spoiling import keep, log_unreadable, signed_as


def bundle(town: LogSimulator, variant: str) -> Bundle:
    """A good signature under a header of another kind."""
    kid = town.device(CLERK).key.kid
    good = {"alg": "Ed25519", "kid": kid, "typ": "custody-statement+sd-jwt"}
    headers: dict[str, dict[str, Any]] = {
        "no algorithm": {**good, "alg": "none"},
        "the deprecated name": {**good, "alg": "EdDSA"},
        "its own key": {**good, "jwk": town.device(CLERK).key.jwk},
        "a critical extension": {**good, "crit": ["exp"], "exp": 1},
        "an access token": {**good, "typ": "custody-access+jwt"},
        "no key": {"alg": "Ed25519", "typ": "custody-statement+sd-jwt"},
    }
    return log_unreadable(town, signed_as(town, CLERK, headers[variant], keep(town)))
