"""See README.md beside this."""

from __future__ import annotations

from bailee.verify.bundle import Bundle
from builders import CLERK
from log_simulator import LogSimulator
from spoiling import claiming, keep, log_unreadable


def bundle(town: LogSimulator, variant: str) -> Bundle:
    """A good signature over claims that are not strict JSON, or have a wrong type."""
    old, new = {
        "a member twice": (b'"secured":"locked"', b'"secured":"locked","secured":"sealed"'),
        "a float": (b'"tzo":"-06:00"', b'"tzo":-6.0'),
        "a count as text": (b'"act":"held"', b'"act":1'),
        "an act in capitals": (b'"act":"held"', b'"act":"HELD"'),
    }[variant]

    def change(claims: bytes) -> bytes:
        assert old in claims
        return claims.replace(old, new)

    return log_unreadable(town, claiming(town, CLERK, keep(town), change))
