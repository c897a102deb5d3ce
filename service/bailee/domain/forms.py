"""The fold: what the statements of one form mean for every sample on it.

    collected, surface_collected → the sampler holds it
    held       → how the holder keeps it (one of five ways)
    relinquished + received → the next person holds it; one half alone leaves the link incomplete
    sealed     → it is kept by a numbered seal until the seal is opened
    shipped    → a carrier holds the sealed envelope
    taken_in → the laboratory holds the sealed envelope, and its seal goes on covering what is inside
    received (dock) → the laboratory holds it; the seal decides whether the sealed leg is whole
    accepted, on_hold, rejected, voided, disposed → what became of it
    stored, withdrawn → a store of the laboratory keeps it, or somebody there has it again
    forwarded → it goes on under a new number, and the sender holds it until a second laboratory does

The fold never refuses: what cannot be right is kept as an `Oddity` for the rules to name. It reads the
entries in causal order (`causal_order.causal`) with corrections applied (`corrections.effective`), so every
reader comes to the same state. Used by service, rules, documents, command line and offline verifier; there is
no second one.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Final

from bailee.domain import causal_order, corrections, day_checks, numbers
from bailee.domain.acts.form import (  # fmt: skip
    Affirmed,
    BuildingChanged,
    Collected,
    ConditionsRead,
    Copied,
    Decision,
    Disposed,
    Excepted,
    Forwarded,
    Held,
    LabNumbered,
    Notified,
    Opened,
    OutdoorRuledOut,
    PumpChecked,
    Received,
    Relinquished,
    Requested,
    Sealed,
    Shipped,
    Stored,
    TakenIn,
    Unsealed,
    Voided,
    Withdrawn,
)
from bailee.domain.acts.privacy import Erased, RetentionHeld, RetentionReleased
from bailee.domain.acts.surface import SurfaceCollected
from bailee.domain.acts.table import ACCEPTED, ON_HOLD, REJECTED
from bailee.domain.custody import (
    CARRIER,
    COURIER,
    MOST_TOLD,
    MOST_UNNAMED,
    Arrival,
    Envelope,
    Form,
    Keeping,
    Link,
    Oddity,
    Said,
    Sample,
    Sealing,
    Status,
    Transfer,
)
from bailee.domain.facts import Facts
from bailee.domain.moments import Moment
from bailee.domain.statements import Recorded


def fold(
    number: str,
    entries: Sequence[Recorded],
    owners: Mapping[str, str] | None = None,
    roles: Mapping[str, str] | None = None,
) -> Form:
    """The state of form `number` after all its `entries` (any order of recording, first one `opened`).

    `owners`: by key, the first key of the same person (`Organization.owners`), so that two devices of one
    person hold as one. `roles`: by key, the role it was enrolled in (`Organization.roles`), which decides
    what it may correct.
    """
    owners, roles = owners or {}, roles or {}
    ordered, followed = corrections.effective(causal_order.causal(entries), owners, roles)
    form = Form(
        number,
        Said(ordered[0], ordered[0].body),
        corrections=followed,
        entries=entries,
        ordered=ordered,
        uncorrected={each.target.digest: each.target for each in reversed(followed) if each.target},
        owners=owners,
        roles=roles,
    )
    for entry in ordered:
        meaning = _MEANING.get(type(entry.body))
        if meaning:
            meaning(form, Said(entry, entry.body))
    day_checks.complete(form)
    _name_what_was_left(form)
    form.oddities = [o for o in form.oddities if (o.code, o.entry.n, o.sample) not in form.settled]
    return form


def _opened(form: Form, said: Said) -> None:
    if said.entry is not form.opened.entry:
        form.oddities.append(Oddity("opened-twice", said.entry))


def _collected(form: Form, said: Said) -> None:
    """Only the firm of the form collects on it: nobody else puts a sample there, nor stands beside its claim.
    Who collects for it does so with a key of that firm.
    """
    body = said.body
    assert isinstance(body, Collected | SurfaceCollected)
    if said.entry.org != form.opened.of(Opened).parties.firm:
        form.oddities.append(Oddity("collected-elsewhere", said.entry, body.sample))
        return
    sample = form.samples.setdefault(body.sample, Sample(body.sample))
    sample.claims.append(said)
    if len(sample.claims) > 1:
        form.oddities.append(Oddity("claimed-twice", said.entry, sample.number))
        return
    signed = form.as_signed(said.entry).body
    sample.of_cavity = isinstance(signed, Collected) and signed.cavity is not None
    stopped = sample.stopped
    assert stopped is not None
    first = Link(said.entry.org, said.entry.kid, stopped, said.entry)
    _begin(form, sample, first)


def _begin(form: Form, sample: Sample, first: Link) -> None:
    """Custody begins, in whatever order it was told."""
    if sample.links:
        first.until = sample.links[0].since
        begun = sample.unanswered.pop("", [])
        if first.kid is not None:
            sample.unanswered.setdefault(form.person(first.kid), [])[:0] = [
                (first, taker) for _, taker in begun
            ]
    sample.links.insert(0, first)
    if sample.status == "announced":
        sample.status = "collected"


def _held(form: Form, said: Said) -> None:
    body = said.of(Held)
    named = body.samples or _all_held(form, said)
    for sample in _each(form, said, named):
        link = _link_held_by(form, sample, said.entry.kid)
        if link is None:
            form.oddities.append(Oddity("not-holder", said.entry, sample.number, "enters how it was secured"))
        else:
            _keep(sample, link, Keeping(body.secured, body.since, body.until, said.entry.n, body.where))


def _all_held(form: Form, said: Said) -> list[str]:
    if form.unnamed >= MOST_UNNAMED:
        form.oddities.append(Oddity("not-followed", said.entry))
        return []
    form.unnamed += len(form.samples)
    return [s.number for s in form.samples.values() if s.holder and form.same(s.holder.kid, said.entry.kid)]


def _relinquished(form: Form, said: Said) -> None:
    body = said.of(Relinquished)
    if body.count not in (None, len(body.samples)):
        form.oddities.append(
            Oddity("count", said.entry, None, f"{body.count} counted, {len(body.samples)} listed")
        )
    for sample in _each(form, said, body.samples):
        if _completes_link(form, said, sample):
            continue
        link = sample.holder
        if link is None or not form.same(link.kid, said.entry.kid):
            form.oddities.append(Oddity("not-holder", said.entry, sample.number, "relinquishes it"))
        else:
            link.until, link.given = body.at, said
        sample.given = said


def _completes_link(form: Form, said: Said, sample: Sample) -> bool:
    """Whether this is the giver's half of a hand-over, signed after the receiver's.

    Then the link is whole.
    """
    waiting = sample.unanswered.get(form.person(said.entry.kid), [])
    while waiting:
        giver, taker = waiting.pop(0)
        if giver and giver.given is None:
            body = said.of(Relinquished)
            giver.until, giver.given = body.at, said
            form.transfers.setdefault(said.entry.digest, Transfer()).taken.add(sample.number)
            taker.gap = taker.since.instant - body.at.instant
            form.settled.add(("not-relinquished", taker.received.n, sample.number))
            _check_receiver(form, Said(taker.received, taker.received.body), said, sample)
            return True
    return False


def _received(form: Form, said: Said) -> None:
    body = said.of(Received)
    if body.dock is not None:
        docked = _docked if said.entry.org in form.laboratories else _opened_elsewhere
        docked(form, said, body)
        return
    if body.count not in (None, len(body.items)):
        form.oddities.append(
            Oddity("count", said.entry, None, f"{body.count} counted, {len(body.items)} listed")
        )
    taken = {item.sample for item in body.items}
    for item in body.items:
        for sample in _each(form, said, [item.sample]):
            given = sample.given
            link = Link(said.entry.org, said.entry.kid, body.at, said.entry)
            if given is None:
                before = sample.holder
                if not (before and before.by_carrier):
                    form.oddities.append(Oddity("not-relinquished", said.entry, sample.number))
                    person = form.person(before.kid) if before and before.kid else ""
                    sample.unanswered.setdefault(person, []).append((before, link))
            else:
                transfer = form.transfers.setdefault(given.entry.digest, Transfer())
                transfer.taken |= taken
                transfer.given, transfer.received = given, said
                link.gap = body.at.instant - given.of(Relinquished).at.instant
                _check_receiver(form, said, given, sample)
            _close(sample, body.at)
            sample.links.append(link)
            sample.given, sample.condition = None, tuple(item.condition)
            _turned_up(form, sample, said)


def _name_what_was_left(form: Form) -> None:
    """What was relinquished together may be received in parts: what none of them named was left behind."""
    for transfer in form.transfers.values():
        if transfer.given is None or transfer.received is None:
            continue
        left = [each for each in transfer.given.of(Relinquished).samples if each not in transfer.taken]
        if left:
            listed = ", ".join(map(numbers.grouped, left))
            form.oddities.append(
                Oddity("count", transfer.received.entry, left[0], f"relinquished but not received: {listed}")
            )


def _check_receiver(form: Form, said: Said, given: Said, sample: Sample) -> None:
    meant = given.of(Relinquished)
    if meant.to != said.entry.org or (meant.to_kid and not form.same(meant.to_kid, said.entry.kid)):
        form.oddities.append(Oddity("other-receiver", said.entry, sample.number))


def _opened_elsewhere(form: Form, said: Said, body: Received) -> None:
    """Who sends an envelope never says that it has arrived. They opened it all the same: no seal keeps what
    they list from then on.
    """
    assert body.dock is not None
    form.oddities.append(Oddity("taken-elsewhere", said.entry, None, body.dock.envelope))
    for sample in _each(form, said, [item.sample for item in body.items]):
        if sample.envelope == body.dock.envelope:
            _end_of_seal(sample, body.at)


def _docked(form: Form, said: Said, body: Received) -> None:
    assert body.dock is not None
    envelope = form.envelopes.setdefault(body.dock.envelope, Envelope(body.dock.envelope))
    envelope.arrivals.append(Arrival(said, envelope.sealing))
    if envelope.shipped is None:
        form.oddities.append(Oddity("not-sealed", said.entry, None, "received without having been shipped"))
    expected = set(envelope.sealing.body.samples) if envelope.sealing else set()
    for item in body.items:
        for sample in _each(form, said, [item.sample]):
            if expected and sample.number not in expected:
                form.oddities.append(Oddity("not-in-envelope", said.entry, sample.number))
            link = Link(said.entry.org, said.entry.kid, body.at, said.entry)
            if sample.given is not None:
                link.gap = body.at.instant - sample.given.of(Relinquished).at.instant
                _check_receiver(form, said, sample.given, sample)
            _close(sample, body.at)
            _end_of_seal(sample, body.at)
            sample.links.append(link)
            sample.given, sample.envelope = None, envelope.number
            sample.condition = tuple(item.condition)
            _turned_up(form, sample, said)
            _move(sample, "received")
    for number in expected - {item.sample for item in body.items}:
        sample = form.samples[number]
        if sample.status in _ENCLOSED and sample.envelope == envelope.number:
            _miss(sample, said, body.at)


def _taken_in(form: Form, said: Said) -> None:
    """The first of a laboratory counts: who sends an envelope never says that it has arrived.

    Told after a dock had opened the envelope, its link goes before that of the dock.
    """
    body = said.of(TakenIn)
    if said.entry.org not in form.laboratories:
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
    for sample in _each(form, said, sealing.body.samples if sealing else []):
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
        _check_receiver(form, said, sample.given, sample)
        sample.given = None
    at = len(sample.links) if place is None else place
    if at and (sample.links[at - 1].until is None or until):
        sample.links[at - 1].until = body.at
    sample.links.insert(at, link)
    if body.seal_state in _COVERS:
        _keep(sample, link, Keeping("sealed", body.at, until, n, f"envelope {envelope.number}"))
    else:
        _end_of_seal(sample, body.at)
    if body.secured != "sealed":
        _keep(sample, link, Keeping(body.secured, body.at, until, n, body.where))
    if until is None:
        _move(sample, "taken_in")


def _arrived_at(sample: Sample, envelope: Envelope) -> int | None:
    """The place of the first link by which a dock has it out of this envelope, or in it."""
    docks = [arrival.said.entry for arrival in envelope.arrivals]
    if envelope.taken_in:
        docks.append(envelope.taken_in.said.entry)
    return next((n for n, link in enumerate(sample.links) if link.received in docks), None)


def _miss(sample: Sample, said: Said, at: Moment) -> None:
    """The envelope was opened, and it was not there: from then on no seal keeps it, and nobody holds it."""
    _close(sample, at)
    _end_of_seal(sample, at)
    sample.status, sample.missed, sample.given = "missing", said, None
    sample.condition = ()  # what was seen when it changed hands says nothing of its arrival


def _turned_up(form: Form, sample: Sample, said: Said) -> None:
    """What was missed is in somebody's hands again; in those of the firm it has not arrived."""
    if sample.missed and sample.found is None:
        sample.found = said
    if sample.status == "missing":
        has_arrived = said.entry.org in form.laboratories
        sample.status, sample.envelope = ("received", sample.envelope) if has_arrived else ("collected", None)


def _sealed(form: Form, said: Said) -> None:
    body = said.of(Sealed)
    envelope = form.envelopes.setdefault(body.envelope, Envelope(body.envelope))
    envelope.sealings.append(Sealing(said))
    if body.count != len(body.samples):
        form.oddities.append(
            Oddity("count", said.entry, None, f"{body.count} counted, {len(body.samples)} listed")
        )
    for sample in _each(form, said, body.samples):
        if sample.status in _ENCLOSED and sample.envelope != body.envelope:
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
            _keep(sample, link, Keeping("sealed", body.at, None, said.entry.n, f"envelope {body.envelope}"))
        sample.envelope = body.envelope
        _move(sample, "sealed")


def _unsealed(form: Form, said: Said) -> None:
    body = said.of(Unsealed)
    envelope = form.envelopes.get(body.envelope)
    if envelope is None or envelope.sealing is None or envelope.sealing.opened:
        form.oddities.append(Oddity("not-sealed", said.entry, None, f"{body.envelope} was not sealed"))
        return
    envelope.sealing.opened = said
    for sample in _each(form, said, envelope.sealing.body.samples):
        _end_of_seal(sample, body.at)
        if sample.status == "sealed":
            sample.status, sample.envelope = "collected", None


def _shipped(form: Form, said: Said) -> None:
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
    for sample in _each(form, said, envelope.sealing.body.samples if envelope.sealing else []):
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
        _keep(sample, carrier, Keeping("sealed", at, until, said.entry.n, f"envelope {envelope.number}"))
    sample.links.insert(place, carrier)
    if arrived is None and sample.status != "missing":
        _move(sample, "shipped")


def _decided(form: Form, said: Said) -> None:
    """Only a laboratory answers for what it has or is to have; its firm takes back no rejection."""
    body = said.of(Decision)
    for sample in _answered_for(form, said, body.samples):
        sample.decisions.append(said)
        if number := body.lab_numbers.get(sample.number):
            sample.numbered.append((said, number))
        _move(sample, _DECISIONS[said.entry.act])


def _lab_numbered(form: Form, said: Said) -> None:
    """Only the laboratory that has it, or is to have it, numbers a sample."""
    own = said.of(LabNumbered).numbers
    for sample in _answered_for(form, said, list(own)):
        sample.numbered.append((said, own[sample.number]))


def _voided(form: Form, said: Said) -> None:
    """A cassette may be voided unused, so one that nobody collected is nothing odd here. Besides the firm
    only its laboratory says that it will not be analyzed, and only of what it received, or missed when it
    opened the envelope.
    """
    number, org = said.of(Voided).sample, said.entry.org
    sample = form.samples.get(number, Sample(number))
    is_received = form.answers_for(org, sample) and sample.came_to(org)
    if org != form.opened.of(Opened).parties.firm and not is_received:
        form.oddities.append(Oddity("decided-elsewhere", said.entry, number))
        return
    form.samples[number] = sample
    if sample.status == "disposed":
        form.oddities.append(Oddity("after-disposal", said.entry, number))
    sample.void = sample.void or said


def _disposed(form: Form, said: Said) -> None:
    """What another organization or a carrier has, nobody disposes of from outside."""
    body = said.of(Disposed)
    for sample in _each(form, said, body.samples):
        if sample.holder and sample.holder.org != said.entry.org:
            form.oddities.append(Oddity("decided-elsewhere", said.entry, sample.number))
            continue
        _close(sample, body.at)
        sample.status = "disposed"


def _stored(form: Form, said: Said) -> None:
    """A link without a key, kept by the lock. Only what the laboratory has goes into its store; whoever puts
    away what a colleague has was to sign for it first.
    """
    body = said.of(Stored)
    for sample in _in_house(form, said, body.samples, "stores it"):
        holder = sample.holder
        if holder and holder.kid and not form.same(holder.kid, said.entry.kid):
            form.oddities.append(Oddity("not-holder", said.entry, sample.number, "stores it"))
        _close(sample, body.at)
        kept = Keeping(body.secured, body.at, None, said.entry.n, body.store)
        sample.links.append(Link(said.entry.org, None, body.at, said.entry, keeping=[kept]))
        sample.given = None


def _withdrawn(form: Form, said: Said) -> None:
    """Whoever takes it out has it, wherever it was on record: that it was elsewhere is for the rules."""
    body = said.of(Withdrawn)
    for sample in _in_house(form, said, body.samples, "withdraws it"):
        _close(sample, body.at)
        sample.links.append(Link(said.entry.org, said.entry.kid, body.at, said.entry))
        sample.given = None


def _in_house(form: Form, said: Said, named: Sequence[str], does: str) -> Iterator[Sample]:
    """Of the named samples those that the signer's laboratory has. Of others nothing moves: no store makes
    what is under way arrive, and nobody takes from outside what somebody else has. What is not on the form
    is in no house.
    """
    for sample in _answered_for(form, said, [number for number in named if number in form.samples]):
        if sample.holder is None or sample.holder.org != said.entry.org:
            form.oddities.append(Oddity("not-holder", said.entry, sample.number, does))
        else:
            yield sample
    unknown = (number for number in named if number not in form.samples)
    form.oddities.extend(Oddity("not-holder", said.entry, number, does) for number in unknown)


def _answered_for(form: Form, said: Said, named: Sequence[str]) -> Iterator[Sample]:
    """Of the named samples those that the signer's laboratory answers for. Of others nothing moves, and none
    is made: what is not on the form yet is to go to the laboratory of the form.
    """
    for number in named:
        if number not in form.samples and said.entry.org != form.opened.of(Opened).parties.lab:
            form.oddities.append(Oddity("decided-elsewhere", said.entry, number))
            continue
        for sample in _each(form, said, [number]):
            if form.answers_for(said.entry.org, sample):
                yield sample
            else:
                form.oddities.append(Oddity("decided-elsewhere", said.entry, number))


def _forwarded(form: Form, said: Said) -> None:
    """The parent's custody ends where that of its child begins: it is the same glass. Only the laboratory
    that answers for it sends it on, and never the sampling firm, even where it was sent to that.
    """
    body = said.of(Forwarded)
    is_laboratory = form.opened.of(Opened).parties.answers(said.entry.org)
    if is_laboratory and body.to not in form.sent_to:
        form.sent_to.append(body.to)
    if body.count not in (None, len(body.items)):
        form.oddities.append(
            Oddity("count", said.entry, None, f"{body.count} counted, {len(body.items)} listed")
        )
    for item in body.items:
        for sample in _each(form, said, [item.sample]):
            if not (is_laboratory and form.answers_for(said.entry.org, sample)):
                form.oddities.append(Oddity("decided-elsewhere", said.entry, sample.number))
                continue
            child = form.samples.setdefault(item.child, Sample(item.child))
            if sample.child or child.parent or child.child or child.claims:
                form.oddities.append(
                    Oddity("sent-twice", said.entry, item.child, f"{numbers.grouped(item.sample)} before it")
                )
                continue
            if sample.holder is None or not form.same(sample.holder.kid, said.entry.kid):
                form.oddities.append(Oddity("not-holder", said.entry, sample.number, "forwards it"))
            _close(sample, body.at)
            _move(sample, "forwarded")
            sample.child, child.parent = child, sample
            first = Link(said.entry.org, said.entry.kid, body.at, said.entry)
            _begin(form, child, first)
            child.condition = child.condition or tuple(item.condition)


def _excepted(form: Form, said: Said) -> None:
    form.exceptions.append(said)


def _seen_on_site(form: Form, said: Said) -> None:
    """By the firm: who is not on site sees and reads nothing there."""
    if said.entry.org == form.opened.of(Opened).parties.firm:
        told = form.changes if isinstance(said.entry.body, BuildingChanged) else form.conditions
        told.append(said)


def _requested(form: Form, said: Said) -> None:
    """Of the firm: whoever is to deliver does not say by when, nor what there is. It may be requested before
    it is collected.
    """
    if said.entry.org != form.opened.of(Opened).parties.firm:
        return
    for number in said.of(Requested).samples or ():
        form.samples.setdefault(number, Sample(number))
    form.requests.append(said)


def _affirmed(form: Form, said: Said) -> None:
    form.affirmed.update(said.of(Affirmed).statements)


def _erased(form: Form, said: Said) -> None:
    body = said.of(Erased)
    form.erased[body.statement] = form.erased.get(body.statement, 0) + body.count


def _retention_held(form: Form, said: Said) -> None:
    form.retained[said.entry.org] = said


def _retention_released(form: Form, said: Said) -> None:
    form.retained.pop(said.entry.org, None)


def _each(form: Form, said: Said, named: Sequence[str]) -> Iterator[Sample]:
    """The named samples.

    One that nobody collected yet, or that is disposed of, is noted, and kept all the same.
    """
    for number in named:
        sample = form.samples.get(number)
        if sample is None:
            sample = form.samples[number] = Sample(number)
        sample.told += 1
        if sample.told > MOST_TOLD:
            if sample.told == MOST_TOLD + 1:
                form.oddities.append(Oddity("not-followed", said.entry, number))
            continue
        if not (sample.claims or sample.parent):
            form.oddities.append(Oddity("not-collected", said.entry, number))
        if sample.status == "disposed":
            form.oddities.append(Oddity("after-disposal", said.entry, number))
        yield sample


def _move(sample: Sample, status: Status) -> None:
    """Disposal is final: what is said afterwards is noted and brings nothing back."""
    if sample.status != "disposed":
        sample.status = status


def _close(sample: Sample, at: Moment) -> None:
    if sample.links and sample.links[-1].until is None:
        sample.links[-1].until = at


def _end_of_seal(sample: Sample, at: Moment) -> None:
    for keeping in sample.unbroken:
        keeping.until = at
    sample.unbroken.clear()


def _keep(sample: Sample, link: Link, keeping: Keeping) -> None:
    link.keeping.append(keeping)
    if keeping.secured == "sealed" and keeping.until is None:
        sample.unbroken.append(keeping)


def _link_held_by(form: Form, sample: Sample, kid: str) -> Link | None:
    """The newest link of that person: a late entry may say how an earlier stretch was kept."""
    return next((link for link in reversed(sample.links) if form.same(link.kid, kid)), None)


_ENCLOSED: Final = frozenset({"sealed", "shipped", "taken_in"})
"""States in which a sample lies in a closed envelope."""
_COVERS: Final = frozenset({"intact", "not_looked_at"})
"""What is seen of a seal that is no reason to think that it ended."""
_DECISIONS: Final[dict[str, Status]] = {ACCEPTED: "accepted", ON_HOLD: "on_hold", REJECTED: "rejected"}

_MEANING: Final[dict[type[Facts], Callable[[Form, Said], None]]] = {
    Opened: _opened,
    Collected: _collected,
    SurfaceCollected: _collected,
    Held: _held,
    Relinquished: _relinquished,
    Received: _received,
    TakenIn: _taken_in,
    Sealed: _sealed,
    Unsealed: _unsealed,
    Shipped: _shipped,
    Decision: _decided,
    LabNumbered: _lab_numbered,
    Voided: _voided,
    Excepted: _excepted,
    OutdoorRuledOut: lambda form, said: form.ruled_out.append(said),
    PumpChecked: lambda form, said: form.pump_checks.append(said),
    ConditionsRead: _seen_on_site,
    BuildingChanged: _seen_on_site,
    Requested: _requested,
    Affirmed: _affirmed,
    Erased: _erased,
    RetentionHeld: _retention_held,
    RetentionReleased: _retention_released,
    Copied: lambda form, said: form.copies.append(said),
    Notified: lambda form, said: form.notices.append(said),
    Disposed: _disposed,
    Stored: _stored,
    Withdrawn: _withdrawn,
    Forwarded: _forwarded,
}
"""What each act on a form changes; an act that is only said changes nothing."""
