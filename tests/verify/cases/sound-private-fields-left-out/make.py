"""See README.md beside this."""

from __future__ import annotations

from bailee.verify.bundle import Bundle, redacted
from log_simulator import LogSimulator


def bundle(town: LogSimulator, variant: str) -> Bundle:
    """All private fields are left out, or two by name."""
    names = frozenset({"all"}) if variant == "all" else frozenset(variant.split())
    return redacted(town.bundle(), names)
