"""By envelope: sealed, opened again, shipped, taken in unopened, and received where it is opened."""

from __future__ import annotations

from typing import Final

from bailee.domain import numbers
from bailee.domain.acts.form import Received, Relinquished, Sealed, Shipped, TakenIn, Unsealed
from bailee.domain.custody import (
    CARRIER,
    COURIER,
    Arrival,
    Envelope,
    Form,
    Keeping,
    Link,
    Oddity,
    Said,
    Sample,
    Sealing,
)
from bailee.domain.folding import hands, samples

_COVERS: Final = frozenset({"intact", "not_looked_at"})
"""What is seen of a seal that is no reason to think that it ended."""


def sealed(form: Form, said: Said) -> None:
    """Its holder keeps it by a numbered seal from now on."""
    body = said.of(Sealed)
    envelope = form.envelopes.setdefault(body.envelope, Envelope(body.envelope))
    envelope.sealings.append(Sealing(said))
    if body.count != len(body.samples):
        form.oddities.append(
            Oddity("count", said.entry, None, f"{body.count} counted, {len(body.samples)} listed")
        )
    for sample in samples.each(form, said, body.samples):
        if sample.status in samples.ENCLOSED and sample.envelope != body.envelope:
            form.oddities.append(
                Oddity(
                    "two-envelopes",
                    said.entry,
                    sample.number,
                    f"also in {numbers.grouped(sample.envelope or '')}",
                )
            )
        link = sample.holder
        if link is None or not form.same(link.kid, said.entry.kid):
            form.oddities.append(Oddity("not-holder", said.entry, sample.number, "seals it"))
        if link is not None:
            samples.keep(
                sample, link, Keeping("sealed", body.at, None, said.entry.n, f"envelope {body.envelope}")
            )
        sample.envelope = body.envelope
        samples.move(sample, "sealed")


def unsealed(form: Form, said: Said) -> None:
    """Opened again before it was shipped: what was inside is loose."""
    body = said.of(Unsealed)
    envelope = form.envelopes.get(body.envelope)
    if envelope is None or envelope.sealing is None or envelope.sealing.opened:
        form.oddities.append(Oddity("not-sealed", said.entry, None, f"{body.envelope} was not sealed"))
        return
    envelope.sealing.opened = said
    for sample in samples.each(form, said, envelope.sealing.body.samples):
        samples.end_of_seal(sample, body.at)
        if sample.status == "sealed":
            sample.status, sample.envelope = "collected", None


def shipped(form: Form, said: Said) -> None:
    """The first shipment counts: a carrier, or a courier by hand, holds what is inside."""
    body = said.of(Shipped)
    envelope = form.envelopes.setdefault(body.envelope, Envelope(body.envelope))
    if envelope.shipped:
        form.oddities.append(Oddity("already-shipped", said.entry, None, body.envelope))
        return
    envelope.shipped = said
    if envelope.sealing is None or envelope.sealing.opened:
        form.oddities.append(
            Oddity("not-sealed", said.entry, None, f"{body.envelope} was shipped without a seal")
        )
    for sample in samples.each(form, said, envelope.sealing.body.samples if envelope.sealing else []):
        _carried(form, said, sample, envelope)
    for late in (envelope.taken_in, *envelope.arrivals[:1]):
        if late:
            form.settled.add(("not-sealed", late.said.entry.n, None))


def _carried(form: Form, said: Said, sample: Sample, envelope: Envelope) -> None:
    """The carrier's link: the last one, or, told after a dock had opened the envelope, the one before the
    dock's.
    """
    at = said.of(Shipped).handed_over
    arrived = _arrived_at(sample, envelope)
    place = len(sample.links) if arrived is None else arrived
    giver = sample.links[place - 1] if place else None
    missed = sample.missed.of(Received).at if sample.missed else None
    if giver is None or not form.same(giver.kid, said.entry.kid):
        form.oddities.append(Oddity("not-holder", said.entry, sample.number, "ships it"))
    if giver and (giver.until is None or arrived is not None or missed):
        giver.until = at
    until = missed if arrived is None else sample.links[arrived].since
    if missed and until and missed < until:
        until = missed
    whose = COURIER if said.of(Shipped).by_hand else CARRIER
    carrier = Link(whose, None, at, said.entry, until=until)
    if envelope.sealing and not envelope.sealing.opened:
        samples.keep(
            sample, carrier, Keeping("sealed", at, until, said.entry.n, f"envelope {envelope.number}")
        )
    sample.links.insert(place, carrier)
    if arrived is None and sample.status != "missing":
        samples.move(sample, "shipped")


def _arrived_at(sample: Sample, envelope: Envelope) -> int | None:
    """The place of the first link by which a dock has it out of this envelope, or in it."""
    docks = [arrival.said.entry for arrival in envelope.arrivals]
    if envelope.taken_in:
        docks.append(envelope.taken_in.said.entry)
    return next((n for n, link in enumerate(sample.links) if link.received in docks), None)


def docked(form: Form, said: Said, body: Received) -> None:
    """Opened at a laboratory, which holds what it lists; what it does not list is missed."""
    assert body.dock is not None
    envelope = form.envelopes.setdefault(body.dock.envelope, Envelope(body.dock.envelope))
    envelope.arrivals.append(Arrival(said, envelope.sealing))
    if envelope.shipped is None:
        form.oddities.append(Oddity("not-sealed", said.entry, None, "received without having been shipped"))
    expected = set(envelope.sealing.body.samples) if envelope.sealing else set()
    for item in body.items:
        for sample in samples.each(form, said, [item.sample]):
            if expected and sample.number not in expected:
                form.oddities.append(Oddity("not-in-envelope", said.entry, sample.number))
            link = Link(said.entry.org, said.entry.kid, body.at, said.entry)
            if sample.given is not None:
                link.gap = body.at.instant - sample.given.of(Relinquished).at.instant
                hands.check_receiver(form, said, sample.given, sample)
            samples.close(sample, body.at)
            samples.end_of_seal(sample, body.at)
            sample.links.append(link)
            sample.given, sample.envelope = None, envelope.number
            sample.condition = tuple(item.condition)
            samples.turned_up(form, sample, said)
            samples.move(sample, "received")
    for number in expected - {item.sample for item in body.items}:
        sample = form.samples[number]
        if sample.status in samples.ENCLOSED and sample.envelope == envelope.number:
            samples.miss(sample, said, body.at)


def opened_elsewhere(form: Form, said: Said, body: Received) -> None:
    """Who sends an envelope never says that it has arrived. They opened it all the same: no seal keeps what
    they list from then on.
    """
    assert body.dock is not None
    form.oddities.append(Oddity("taken-elsewhere", said.entry, None, body.dock.envelope))
    for sample in samples.each(form, said, [item.sample for item in body.items]):
        if sample.envelope == body.dock.envelope:
            samples.end_of_seal(sample, body.at)


def taken_in(form: Form, said: Said) -> None:
    """The first of a laboratory counts: who sends an envelope never says that it has arrived.

    Told after a dock had opened the envelope, its link goes before that of the dock.
    """
    body = said.of(TakenIn)
    if not form.takes_in(said.entry.org, body.envelope):
        form.oddities.append(Oddity("taken-elsewhere", said.entry, None, body.envelope))
        return
    envelope = form.envelopes.setdefault(body.envelope, Envelope(body.envelope))
    if envelope.taken_in:
        form.oddities.append(Oddity("already-arrived", said.entry, None, body.envelope))
        return
    sealing = envelope.arrivals[0].sealing if envelope.arrivals else envelope.sealing
    envelope.taken_in = Arrival(said, sealing)
    if envelope.shipped is None and not envelope.arrivals:
        form.oddities.append(Oddity("not-sealed", said.entry, None, "taken in without having been shipped"))
    for sample in samples.each(form, said, sealing.body.samples if sealing else []):
        if sample.envelope == envelope.number:
            _stored_sealed(form, said, sample, envelope)


def _stored_sealed(form: Form, said: Said, sample: Sample, envelope: Envelope) -> None:
    """The laboratory's link up to the opening: kept by the seal, unless that was not whole any more, and as
    it is said besides.
    """
    body, n, place = said.of(TakenIn), said.entry.n, _arrived_at(sample, envelope)
    missed = sample.missed.of(Received).at if sample.missed else None
    until = missed if place is None else sample.links[place].since
    link = Link(said.entry.org, said.entry.kid, body.at, said.entry, until=until)
    if sample.given is not None:
        link.gap = body.at.instant - sample.given.of(Relinquished).at.instant
        hands.check_receiver(form, said, sample.given, sample)
        sample.given = None
    at = len(sample.links) if place is None else place
    if at and (sample.links[at - 1].until is None or until):
        sample.links[at - 1].until = body.at
    sample.links.insert(at, link)
    if body.seal_state in _COVERS:
        samples.keep(sample, link, Keeping("sealed", body.at, until, n, f"envelope {envelope.number}"))
    else:
        samples.end_of_seal(sample, body.at)
    if body.secured != "sealed":
        samples.keep(sample, link, Keeping(body.secured, body.at, until, n, body.where))
    if until is None:
        samples.move(sample, "taken_in")
