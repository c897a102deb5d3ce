"""What a laboratory says of what it has: decided, numbered, stored, withdrawn, disposed of, sent on."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from bailee.domain import numbers
from bailee.domain.acts.form import (
    Decision,
    Disposed,
    Forwarded,
    LabNumbered,
    Opened,
    Stored,
    Voided,
    Withdrawn,
)
from bailee.domain.acts.table import ACCEPTED, ON_HOLD, REJECTED
from bailee.domain.custody import Form, Keeping, Link, Oddity, Said, Sample, Status
from bailee.domain.folding import samples

_DECISIONS: Final[dict[str, Status]] = {ACCEPTED: "accepted", ON_HOLD: "on_hold", REJECTED: "rejected"}


def decided(form: Form, said: Said) -> None:
    """Only a laboratory answers for what it has or is to have; its firm takes back no rejection."""
    body = said.of(Decision)
    for sample in _answered_for(form, said, body.samples):
        sample.decisions.append(said)
        if number := body.lab_numbers.get(sample.number):
            sample.numbered.append((said, number))
        samples.move(sample, _DECISIONS[said.entry.act])


def lab_numbered(form: Form, said: Said) -> None:
    """Only the laboratory that has it, or is to have it, numbers a sample."""
    own = said.of(LabNumbered).numbers
    for sample in _answered_for(form, said, list(own)):
        sample.numbered.append((said, own[sample.number]))


def _answered_for(form: Form, said: Said, named: Sequence[str]) -> Iterator[Sample]:
    """Of the named samples those that the signer's laboratory answers for. Of others nothing moves, and none
    is made: what is not on the form yet is to go to the laboratory of the form.
    """
    for number in named:
        if number not in form.samples and said.entry.org != form.opened.of(Opened).parties.lab:
            form.oddities.append(Oddity("decided-elsewhere", said.entry, number))
            continue
        for sample in samples.each(form, said, [number]):
            if form.answers_for(said.entry.org, sample):
                yield sample
            else:
                form.oddities.append(Oddity("decided-elsewhere", said.entry, number))


def stored(form: Form, said: Said) -> None:
    """A link without a key, kept by the lock. Only what the laboratory has goes into its store; whoever puts
    away what a colleague has was to sign for it first.
    """
    body = said.of(Stored)
    for sample in _in_house(form, said, body.samples, "stores it"):
        holder = sample.holder
        if holder and holder.kid and not form.same(holder.kid, said.entry.kid):
            form.oddities.append(Oddity("not-holder", said.entry, sample.number, "stores it"))
        samples.close(sample, body.at)
        kept = Keeping(body.secured, body.at, None, said.entry.n, body.store)
        sample.links.append(Link(said.entry.org, None, body.at, said.entry, keeping=[kept]))
        sample.given = None


def withdrawn(form: Form, said: Said) -> None:
    """Whoever takes it out has it, wherever it was on record: that it was elsewhere is for the rules."""
    body = said.of(Withdrawn)
    for sample in _in_house(form, said, body.samples, "withdraws it"):
        samples.close(sample, body.at)
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


def disposed(form: Form, said: Said) -> None:
    """What another organization or a carrier has, nobody disposes of from outside."""
    body = said.of(Disposed)
    for sample in samples.each(form, said, body.samples):
        if sample.holder and sample.holder.org != said.entry.org:
            form.oddities.append(Oddity("decided-elsewhere", said.entry, sample.number))
            continue
        samples.close(sample, body.at)
        sample.status = "disposed"


def voided(form: Form, said: Said) -> None:
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


def forwarded(form: Form, said: Said) -> None:
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
        for sample in samples.each(form, said, [item.sample]):
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
            samples.close(sample, body.at)
            samples.move(sample, "forwarded")
            sample.child, child.parent = child, sample
            first = Link(said.entry.org, said.entry.kid, body.at, said.entry)
            samples.begin(form, child, first)
            child.condition = child.condition or tuple(item.condition)
