"""See README.md beside this."""

from __future__ import annotations

from dataclasses import replace

from bailee.verify.bundle import Bundle
from builders import CLERK, FIRM, ROOT
from log_simulator import LogSimulator
from spoiling import LATER, keep, log_it


def bundle(town: LogSimulator, variant: str) -> Bundle:
    """The refused text takes its count, and the device goes on; or the root key founds once more."""
    by = ROOT if variant == "founded once more" else CLERK
    key = town.device(by).key
    acts = {
        "a role that may not": ("trained", {"kid": key.kid, "on": "2025-03-03", "valid_to": None}),
        "founded once more": ("founded", {"name": "Harrow Field", "jwk": key.jwk, "recovery": None}),
    }
    act, data = acts[variant]
    refused = town.signed(by, f"org/{FIRM}", act, data, said=LATER)
    made = log_it(town, keep(town)) if by is CLERK else town.bundle()
    return replace(made, refused=(refused,))
