"""Which numbers each act speaks of: the number, what is said of it, the number it is tied to there.

Seals, serials, tracking numbers and the laboratory's own are named with whose they are.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import suppress
from datetime import timedelta
from typing import Final

from bailee.domain.acts.form import (
    Collected,
    Corrected,
    Decision,
    Forwarded,
    LabNumbered,
    Received,
    Requested,
    Sealed,
    Shipped,
    TakenIn,
    Voided,
)
from bailee.domain.acts.lot import Issued
from bailee.domain.acts.privacy import Erased, RetentionHeld
from bailee.domain.acts.surface import SurfaceCollected
from bailee.domain.moments import Moment
from bailee.errors import Malformed

Named = tuple[str, str, str | None]

ISSUED: Final = "issued"
COLLECTED: Final = "collected"
VOIDED: Final = "voided"
FORWARDED: Final = "forwarded"
SENT_ON: Final = "sent_on"
SEALED: Final = "sealed"
PACKED: Final = "packed"
SHIPPED: Final = "shipped"
DOCKED: Final = "docked"
USED: Final = "used"
SEAL: Final = "seal"
SERIAL: Final = "serial"
AIRBILL: Final = "airbill"
NUMBERED: Final = "numbered"
HELD: Final = "held"
RUN: Final = "run"
REPLACED: Final = "replaced"
ASKED: Final = "asked"
ERASED: Final = "erased"

REQUEST: Final = "request"
"""Stands where a number does, for forms with which anything was requested."""

RETENTION: Final = "retention"
"""Stands where a number does, for forms that were ever held from being erased."""

ERASURE: Final = "erasure"
"""Stands where a number does, for forms of which private fields were erased."""


def own_seal(org: str, seal: str) -> str:
    """The name of a seal: each organization's for itself, for two may have bought the same printed number."""
    return f"{org}/{seal}"


def glass(org: str, serial: str) -> str:
    """The name of a cassette's serial: each organization's for itself, exactly as it was read."""
    return f"{org}/{serial}"


def again(org: str, sample: str) -> str:
    """The name of a sample that an organization collected again: each organization's word for itself."""
    return f"{org}/{sample}"


def pump(org: str, number: str) -> str:
    """The name of a pump: each organization's for itself, exactly as it was entered."""
    return f"{org}/{number}"


def runs(org: str, body: Collected) -> Iterator[str]:
    """The names of a pump's run: each organization's pump, and each hour (UTC) that the run touches, so that
    two runs at once share one.
    """
    if body.pump and body.run_s:
        ended = body.started.moved(timedelta(seconds=body.run_s))
        yield from (f"{pump(org, body.pump)}/{each}" for each in range(_hour(body.started), _hour(ended) + 1))


def runs_corrected(org: str, body: Collected) -> Iterator[str]:
    """The names under which a correction may have moved another run beside this one: to its pump, or to its
    hour or the one before; or have lengthened one that began in the hour before.
    """
    if body.pump and body.run_s:
        yield pump(org, body.pump)
        yield f"{pump(org, body.pump)}/{_hour(body.started) - 1}"
        yield from (f"{org}//{_hour(body.started) - back}" for back in (1, 0))


def _hour(at: Moment) -> int:
    return int(at.instant.timestamp()) // 3600


def lab_number(org: str, given: str) -> str:
    """The name of a number that a laboratory gave: each laboratory's for itself."""
    return f"{org}/{given}"


def airbill(org: str, carrier: str, tracking: str) -> str:
    """The name of a tracking number: each organization's and carrier's, spaced and in capitals or not."""
    return f"{org}/{carrier}/{tracking.replace(' ', '').upper()}"


def nothing(_body: object, _org: str) -> Iterator[Named]:
    """It speaks of no number that anybody asks for."""
    return iter(())


def issued(body: Issued, _org: str) -> Iterator[Named]:
    """Each sample, tied to the key it was handed to."""
    yield from ((number, ISSUED, body.to) for number in body.samples)


def collected(body: Collected, org: str) -> Iterator[Named]:
    """The sample, its lot, the serial on the cassette, and when its pump ran."""
    yield body.sample, COLLECTED, body.lot
    yield body.lot, USED, body.sample
    if body.serial:
        yield glass(org, body.serial), SERIAL, body.sample
    yield from ((name, RUN, body.sample) for name in runs(org, body))
    if body.replaces:
        yield again(org, body.replaces), REPLACED, body.sample


def surface_collected(body: SurfaceCollected, org: str) -> Iterator[Named]:
    """The sample, and the lot of its medium if that has one."""
    yield body.sample, COLLECTED, body.lot
    if body.replaces:
        yield again(org, body.replaces), REPLACED, body.sample
    if body.lot:
        yield body.lot, USED, body.sample


def corrected(body: Corrected, org: str) -> Iterator[Named]:
    """A lot, serial, pump or start that should have been said; of which sample only the form knows."""
    if isinstance(body.new, str) and body.field == "lot":
        yield body.new, USED, None
    if isinstance(body.new, str) and body.field == "serial":
        yield glass(org, body.new), SERIAL, None
    if isinstance(body.new, str) and body.field == "replaces":
        yield again(org, body.new), REPLACED, None
    if isinstance(body.new, str) and body.field == "pump":
        yield pump(org, body.new), RUN, None
    if isinstance(body.new, str) and body.field == "started":
        with suppress(Malformed):  # a correction that no run can follow
            yield f"{org}//{_hour(Moment.parse(body.new))}", RUN, None


def voided(body: Voided, _org: str) -> Iterator[Named]:
    """The sample."""
    yield body.sample, VOIDED, None


def forwarded(body: Forwarded, _org: str) -> Iterator[Named]:
    """Each new number and the one before it, from both ends."""
    for item in body.items:
        yield item.child, FORWARDED, item.sample
        yield item.sample, SENT_ON, item.child


def decided(body: Decision, org: str) -> Iterator[Named]:
    """The laboratory's own numbers."""
    return _numbered(body.lab_numbers, org)


def lab_numbered(body: LabNumbered, org: str) -> Iterator[Named]:
    """The same, given without a decision."""
    return _numbered(body.numbers, org)


def _numbered(own: Mapping[str, str], org: str) -> Iterator[Named]:
    given_to = {given: sample for sample, given in reversed(list(own.items()))}
    yield from ((lab_number(org, given), NUMBERED, sample) for given, sample in given_to.items())


def sealed(body: Sealed, org: str) -> Iterator[Named]:
    """The envelope, its seal, and what lies in it."""
    yield body.envelope, SEALED, body.seal
    yield own_seal(org, body.seal), SEAL, body.envelope
    yield from ((number, PACKED, body.envelope) for number in body.samples)


def shipped(body: Shipped, org: str) -> Iterator[Named]:
    """The envelope and its tracking number."""
    yield body.envelope, SHIPPED, None
    if body.tracking:
        yield airbill(org, body.carrier, body.tracking), AIRBILL, body.envelope


def docked(body: Received, _org: str) -> Iterator[Named]:
    """The envelope that a dock opened; from hand to hand nothing."""
    if body.dock is not None:
        yield body.dock.envelope, DOCKED, None


def taken_in(body: TakenIn, _org: str) -> Iterator[Named]:
    """The envelope that came to a dock, unopened."""
    yield body.envelope, DOCKED, None


def requested(_body: Requested, _org: str) -> Iterator[Named]:
    """That something was requested with the form."""
    yield REQUEST, ASKED, None


def held(_body: RetentionHeld, _org: str) -> Iterator[Named]:
    """That the form was ever held from being erased."""
    yield RETENTION, HELD, None


def erased(_body: Erased, _org: str) -> Iterator[Named]:
    """That private fields of the form were erased; of which statement only the entry says."""
    yield ERASURE, ERASED, None
