"""On whose clocks a time is read and told: those of the place that was visited, not of the
machine at hand.
"""

from __future__ import annotations

from collections.abc import Iterable

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
