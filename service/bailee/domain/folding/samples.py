"""What may happen to a sample by many acts: it is named, its custody begins, it moves, is kept by a seal, is
missed and turns up.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from bailee.domain.custody import MOST_TOLD, Form, Keeping, Link, Oddity, Said, Sample, Status
from bailee.domain.moments import Moment

ENCLOSED: Final = frozenset({"sealed", "shipped", "taken_in"})
"""States in which a sample lies in a closed envelope."""


def each(form: Form, said: Said, named: Sequence[str]) -> Iterator[Sample]:
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


def begin(form: Form, sample: Sample, first: Link) -> None:
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


def move(sample: Sample, status: Status) -> None:
    """Disposal is final: what is said afterwards is noted and brings nothing back."""
    if sample.status != "disposed":
        sample.status = status


def close(sample: Sample, at: Moment) -> None:
    """Whoever had it last has it no longer."""
    if sample.links and sample.links[-1].until is None:
        sample.links[-1].until = at


def end_of_seal(sample: Sample, at: Moment) -> None:
    """No seal keeps it from then on."""
    for keeping in sample.unbroken:
        keeping.until = at
    sample.unbroken.clear()


def keep(sample: Sample, link: Link, keeping: Keeping) -> None:
    """How its holder secures it; a seal goes on until it ends."""
    link.keeping.append(keeping)
    if keeping.secured == "sealed" and keeping.until is None:
        sample.unbroken.append(keeping)


def link_held_by(form: Form, sample: Sample, kid: str) -> Link | None:
    """The newest link of that person: a late entry may say how an earlier stretch was kept."""
    return next((link for link in reversed(sample.links) if form.same(link.kid, kid)), None)


def miss(sample: Sample, said: Said, at: Moment) -> None:
    """The envelope was opened, and it was not there: from then on no seal keeps it, and nobody holds it."""
    close(sample, at)
    end_of_seal(sample, at)
    sample.status, sample.missed, sample.given = "missing", said, None
    sample.condition = ()  # what was seen when it changed hands says nothing of its arrival


def turned_up(form: Form, sample: Sample, said: Said) -> None:
    """What was missed is in somebody's hands again; in those of the firm it has not arrived."""
    if sample.missed and sample.found is None:
        sample.found = said
    if sample.status == "missing":
        has_arrived = said.entry.org == form.bound_for(sample)
        sample.status, sample.envelope = ("received", sample.envelope) if has_arrived else ("collected", None)
