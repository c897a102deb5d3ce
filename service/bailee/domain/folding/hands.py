"""From hand to hand: collected, secured, relinquished and received by people."""

from __future__ import annotations

from bailee.domain import numbers
from bailee.domain.acts.form import Collected, Held, Opened, Received, Relinquished
from bailee.domain.acts.surface import SurfaceCollected
from bailee.domain.custody import MOST_UNNAMED, Form, Keeping, Link, Oddity, Said, Sample, Transfer
from bailee.domain.folding import samples


def collected(form: Form, said: Said) -> None:
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
    samples.begin(form, sample, first)


def held(form: Form, said: Said) -> None:
    """How its holder secures what is named, or all that the signer holds."""
    body = said.of(Held)
    named = body.samples or _all_held(form, said)
    for sample in samples.each(form, said, named):
        link = samples.link_held_by(form, sample, said.entry.kid)
        if link is None:
            form.oddities.append(Oddity("not-holder", said.entry, sample.number, "enters how it was secured"))
        else:
            samples.keep(
                sample, link, Keeping(body.secured, body.since, body.until, said.entry.n, body.where)
            )


def _all_held(form: Form, said: Said) -> list[str]:
    if form.unnamed >= MOST_UNNAMED:
        form.oddities.append(Oddity("not-followed", said.entry))
        return []
    form.unnamed += len(form.samples)
    return [s.number for s in form.samples.values() if s.holder and form.same(s.holder.kid, said.entry.kid)]


def relinquished(form: Form, said: Said) -> None:
    """The giver's half: who has it gives it, and holds it until it is received."""
    body = said.of(Relinquished)
    if body.count not in (None, len(body.samples)):
        form.oddities.append(
            Oddity("count", said.entry, None, f"{body.count} counted, {len(body.samples)} listed")
        )
    for sample in samples.each(form, said, body.samples):
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
            check_receiver(form, Said(taker.received, taker.received.body), said, sample)
            return True
    return False


def received(form: Form, said: Said, body: Received) -> None:
    """The receiver's half, out of the hand of a giver or a carrier."""
    if body.count not in (None, len(body.items)):
        form.oddities.append(
            Oddity("count", said.entry, None, f"{body.count} counted, {len(body.items)} listed")
        )
    taken = {item.sample for item in body.items}
    for item in body.items:
        for sample in samples.each(form, said, [item.sample]):
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
                check_receiver(form, said, given, sample)
            samples.close(sample, body.at)
            sample.links.append(link)
            sample.given, sample.condition = None, tuple(item.condition)
            samples.turned_up(form, sample, said)


def name_what_was_left(form: Form) -> None:
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


def check_receiver(form: Form, said: Said, given: Said, sample: Sample) -> None:
    """It was given to that organization, and to that person where one was named."""
    meant = given.of(Relinquished)
    if meant.to != said.entry.org or (meant.to_kid and not form.same(meant.to_kid, said.entry.kid)):
        form.oddities.append(Oddity("other-receiver", said.entry, sample.number))
