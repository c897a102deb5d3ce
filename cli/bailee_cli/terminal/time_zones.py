"""On whose clocks a time is read and told: those of the place that was visited, not of the
machine at hand.
"""

from __future__ import annotations

import os
from collections.abc import Iterable
from pathlib import Path
from typing import Final

from bailee.asking import written_times
from bailee.domain import numbers
from bailee.errors import BaileeError
from bailee_cli.device import cache
from bailee_cli.device.session import Session


def of_form(session: Session, form: str) -> str | None:
    """Zone of a form's visit: as this device remembers it, else as the ledger says.

    None when neither knows.
    """
    known = cache.zone_of(session, form)
    if known:
        return known
    try:
        return str(cache.form(session, form)["zone"])
    except BaileeError:
        return None


def of_samples(session: Session, samples: Iterable[str]) -> str | None:
    """Zone of the visit of the first of these samples that is on a form."""
    for sample in samples:
        try:
            return of_form(session, cache.form_of(session, sample))
        except BaileeError:
            continue
    return None


def of_envelope(session: Session, envelope: str) -> str | None:
    """Zone of the first visit in a sealed envelope."""
    try:
        forms = session.service.get(f"/envelopes/{envelope}")["forms"]
    except BaileeError:
        return None
    return next(filter(None, (of_form(session, each) for each in forms)), None)


def of_number(session: Session, number: str) -> str | None:
    """Zone of the visit that a form, sample or sealed envelope belongs to; None for anything else."""
    match numbers.kind_of(number):
        case "form":
            return of_form(session, number)
        case "sample":
            return of_samples(session, [number])
        case "envelope":
            return of_envelope(session, number)
        case _:
            return None


_DATABASE: Final = "zoneinfo/"
"""Begins the name of a zone in the path of its file."""


def of_device() -> str | None:
    """Zone of this device, by area and city as a site's is named; None where it has another, or none."""
    set_to = os.environ.get("TZ") or os.path.realpath(_LOCAL)
    name = set_to.removeprefix(":").rpartition(_DATABASE)[2]
    if name.startswith("Etc/") or "/" not in name:
        return None
    try:
        return written_times.zone(name)
    except BaileeError:
        return None


_LOCAL: Final = Path("/etc/localtime")
