"""RC-23: what was disposed of before the day until which a store was to keep it.

Judged by what stood when the disposal was recorded. What is corrected afterwards moves no day, takes no
sample out of the store or the disposal, and turns no destruction into an archive without a word.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from typing import Final

from bailee.domain.acts.form import Disposed, Stored
from bailee.domain.corrections import Correction
from bailee.domain.custody import Form
from bailee.domain.moments import Moment
from bailee.domain.statements import Recorded
from bailee.frozen import frozen
from bailee.rules.case import Case
from bailee.rules.registry import Hit, rule
from bailee.rules.remedies import advice, do
from bailee.rules.wording import clock, day, samples, start, were


@frozen
class Version:
    """What a storing says from one entry on: of which samples, until which day they are kept."""

    since: int
    samples: frozenset[str]
    keep_until: str | None


@frozen
class Storing:
    """One storing, as it was signed and as each correction left it, in order."""

    org: str
    versions: list[Version]

    def before(self, n: int) -> Version | None:
        """What it said before entry `n`; None: nothing yet."""
        place = bisect_left(self.versions, n, key=lambda each: each.since)
        return self.versions[place - 1] if place else None


@rule(
    "RC-23", "Disposed of before the day until which it is kept", "flag", "custody",
    "ISO/IEC 17025:2017 7.4.1: retention and disposal of test items",
    advice(
        "Notify the sampling firm and enter that. What is corrected after the disposal does not change it.",
        do("notified", "form", of="lost", to="firm", how=..., at=...),
    ),
)  # fmt: skip
def kept_too_short(case: Case) -> Iterator[Hit]:
    """By the newest word of its laboratory when it was disposed of, and the clock of whoever did that, who
    did it before the ledger was told. Archived is kept. A disposal that reads otherwise since is warned of.
    """
    for form in case.forms.values():
        disposals = [entry for entry in form.ordered if isinstance(entry.body, Disposed)]
        stored = _stored(form) if disposals else {}
        for entry in disposals:
            now = _kept_longer(form, entry, stored)
            yield from _told(form, entry, now, "")
            signed = form.as_signed(entry)
            if signed is not entry:
                still = {number for named in now.values() for number in named}
                then = _kept_longer(form, signed, stored)
                was = {until: [each for each in named if each not in still] for until, named in then.items()}
                yield from _told(
                    form, signed, was, " by the entry as it was signed, which was corrected since"
                )


_AS_SIGNED: Final = " by the entry as it was signed, which was corrected since"


def _told(form: Form, entry: Recorded, found: dict[date, list[str]], how: str) -> Iterator[Hit]:
    body = entry.body
    assert isinstance(body, Disposed)
    for until, numbers in found.items():
        if numbers:
            said = (
                f"{start(samples(numbers))} {were(numbers)} disposed of ({body.how})"
                f" {_when(entry, body)}{how}, to be kept until {day(until)}."
            )
            yield Hit(form.number, said, "warn" if how else None, (entry.n,), names=tuple(numbers))


def _kept_longer(form: Form, entry: Recorded, stored: _Stored) -> dict[date, list[str]]:
    body, found = entry.body, dict[date, list[str]]()
    assert isinstance(body, Disposed)
    done = min(body.at, _recorded(entry, body)).local_date
    for number in () if body.how == "archived" else dict.fromkeys(body.samples):
        until = _stood(form, number, entry, stored)
        if until and done < until:
            found.setdefault(until, []).append(number)
    return found


def _recorded(entry: Recorded, body: Disposed) -> Moment:
    """When it was over at the latest, on the clock of its signer: when the ledger was told of it."""
    return Moment(entry.rec, body.at.offset_minutes)


def _when(entry: Recorded, body: Disposed) -> str:
    recorded = _recorded(entry, body)
    return (
        f"on {clock(body.at)}" if body.at <= recorded else f"before {clock(recorded)}, when it was recorded"
    )


def _stood(form: Form, number: str, entry: Recorded, stored: _Stored) -> date | None:
    """Until when a store of the laboratory that disposed of it was to keep it, by the newest word of before
    that entry; None for what it never had, or what others had voided by then: its own void ends no keeping.
    """
    sample, n = form.samples.get(number), entry.n
    had = sample and any(link.org == entry.org and link.received.n < n for link in sample.links)
    void = sample.void.entry if sample and sample.void else None
    if sample is None or not had or (void and void.n < n and void.org != entry.org):
        return None
    for storing in reversed(stored.get(number, ())):
        then = storing.before(n)
        if storing.org == entry.org and then and number in then.samples and then.keep_until:
            return date.fromisoformat(then.keep_until)
    return None


_Stored = dict[str, list[Storing]]
"""By sample, each storing that ever named it."""


def _stored(form: Form) -> _Stored:
    changed: dict[str, list[Correction]] = {}
    for each in form.corrections:
        if each.body.field in ("keep_until", "samples") and not each.why_not:
            changed.setdefault(each.body.statement, []).append(each)
    found: _Stored = {}
    for entry in form.ordered:
        signed = form.as_signed(entry).body
        if isinstance(signed, Stored) and entry.org in form.laboratories:
            until = signed.keep_until.isoformat() if signed.keep_until else None
            storing = Storing(entry.org, [Version(entry.n, frozenset(signed.samples), until)])
            for each in changed.get(entry.digest, ()):
                last, new = storing.versions[-1], each.body.new
                if each.body.field == "samples":
                    storing.versions.append(replace(last, since=each.entry.n, samples=frozenset(new)))
                else:
                    storing.versions.append(replace(last, since=each.entry.n, keep_until=new))
            for number in frozenset[str]().union(*{each.samples for each in storing.versions}):
                found.setdefault(number, []).append(storing)
    return found
