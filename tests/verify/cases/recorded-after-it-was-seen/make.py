"""See README.md beside this."""

from __future__ import annotations

from bailee.domain.moments import Moment
from bailee.verify.bundle import Bundle
from bailee.verify.verifier import Trust
from log_simulator import LogSimulator
from spoiling import cosigned, cosigners, keep


def bundle(town: LogSimulator, variant: str) -> Bundle:
    """The last entry was recorded by a clock that was ahead of the cosigner's."""
    rec = {"five minutes": "2026-12-02T18:05:00Z", "more": "2026-12-02T18:05:01Z"}[variant]
    town.append(f"form/{town.form}", keep(town), rec=Moment.parse(rec))
    return cosigned(town.bundle(), "lab", "firm")


def brings(town: LogSimulator, variant: str) -> Trust:
    """Both cosigners are asked for."""
    return cosigners(town, 2, "lab", "firm")
