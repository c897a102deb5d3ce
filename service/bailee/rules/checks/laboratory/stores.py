"""CU: what lies in a store of the laboratory: out of it overnight, taken from where it was not.

The store signs nothing, and its lock speaks. While somebody works on a sample in daylight nobody asks how it
is secured.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime
from itertools import pairwise
from typing import Final

from bailee.domain.acts.form import Withdrawn
from bailee.domain.custody import Link, Sample
from bailee.domain.moments import Moment, duration_words
from bailee.frozen import frozen
from bailee.rules.case import Case
from bailee.rules.checks.transfers import under_seal, unstated
from bailee.rules.registry import Hit, rule
from bailee.rules.remedies import advice, do
from bailee.rules.wording import clock, clock_at, samples, start, were

_LAB: Final = "EPA 905R78115 (1978): possession, view, locked, restricted or sealed; ISO/IEC 17025:2017 7.4.1"


@frozen
class Out:
    """One sample out of its store overnight: from which withdrawal on, until it was back or went elsewhere
    (None: not yet).
    """

    sample: Sample
    link: Link
    until: datetime | None


@rule(
    "CU-23", "Out of its store overnight", "warn", "custody", _LAB,
    advice(
        "Put them back into a store and sign that; or enter how they were secured meanwhile.",
        do("stored", "sample", store=..., secured=...),
        do("held", "sample", secured=..., where=..., since=..., until=...),
    ),
)  # fmt: skip
def overnight(case: Case) -> Iterator[Hit]:
    """Withdrawn on one day and not back on it, by the clock of the withdrawal, and no entry shows how it was
    secured over midnight.
    """
    for form in case.forms.values():
        found: dict[tuple[int, datetime | None], list[Out]] = {}
        for sample in form.live:
            for out in _outs(sample, case.at):
                found.setdefault((out.link.received.n, out.until), []).append(out)
        for (n, until), alike in found.items():
            numbers, link = [each.sample.number for each in alike], alike[0].link
            body = link.received.body
            assert isinstance(body, Withdrawn)
            ends = (
                f"until {clock_at(until, body.at)}, for {duration_words(until - body.at.instant)}"
                if until
                else "and no return is on record"
            )
            they, who = "it was" if len(numbers) == 1 else "they were", case.person(link.org, link.kid)
            said = (
                f"{start(samples(numbers))} {were(numbers)} withdrawn from store {body.store} by {who} on"
                f" {clock(body.at)}, overnight {ends}; no entry shows how {they} secured."
            )
            yield Hit(form.number, said, entries=(n,), names=tuple(numbers))


def _outs(sample: Sample, at: Moment) -> Iterator[Out]:
    """Each time it was out overnight. It is back in any store, and the time is over when another house has
    it or custody ends.
    """
    silent = _silent_overnight(sample, at)
    out, is_silent = None, False
    for before, link in pairwise(sample.links):
        if out and (link.store or link.org != out.org):
            if is_silent:
                yield Out(sample, out, link.since.instant)
            out, is_silent = None, False
        if before.store and isinstance(link.received.body, Withdrawn):
            out = link
        is_silent |= out is not None and id(link) in silent
    if out and is_silent:
        ended = sample.links[-1].until
        yield Out(sample, out, ended.instant if ended else None)


def _silent_overnight(sample: Sample, at: Moment) -> set[int]:
    """Links in which nobody says over some midnight, by the clock of their beginning, how it was secured."""
    taken = [link for link in sample.links if isinstance(link.received.body, Withdrawn)]
    if not taken:
        return set()
    return {
        id(each.link)
        for each in unstated(sample, under_seal(sample), taken[0].since.instant, at.instant)
        if _day(each.link, each.since) != _day(each.link, each.until)
    }


def _day(link: Link, instant: datetime) -> date:
    return Moment(instant, link.since.offset_minutes).local_date


@rule(
    "CU-24", "Withdrawn from where it was not on record", "warn", "custody", _LAB,
    advice(
        "The person who had it signs what is missing with its true time: that it was put back, or into which"
        " store. The wrong store or sample was named: correct that.",
        do("stored", "sample", store=..., at=...),
        do("corrected", "form", of="withdrawn", field="store", new=..., reason="misread"),
    ),
)  # fmt: skip
def another_has_it(case: Case) -> Iterator[Hit]:
    """On record somebody has it, or it lies in another store."""
    for form in case.forms.values():
        found: dict[tuple[int, str], list[str]] = {}
        for sample in form.samples.values():
            for before, link in pairwise(sample.links):
                body = link.received.body
                if isinstance(body, Withdrawn) and before.store != body.store:
                    where = _where(case, before)
                    found.setdefault((link.received.n, where), []).append(sample.number)
        by_n = {entry.n: entry for entry in form.ordered} if found else {}
        for (n, where), numbers in found.items():
            entry, body = by_n[n], by_n[n].body
            assert isinstance(body, Withdrawn)
            said = (
                f"{case.person(entry.org, entry.kid)} withdrew {samples(numbers)} from store {body.store} on"
                f" {clock(body.at)}; on record {where}."
            )
            yield Hit(form.number, said, entries=(n,), names=tuple(numbers))


def _where(case: Case, before: Link) -> str:
    if before.store:
        return f"what was withdrawn was in store {before.store} since {clock(before.since)}"
    return f"{case.person(before.org, before.kid)} had what was withdrawn since {clock(before.since)}"
