"""VP-16: what the laboratory is asked for, and by when; and which results it still owes by their day."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import date, datetime
from typing import cast

from bailee.domain.acts.form import Copied, Requested
from bailee.domain.acts.table import ACCEPTED, REJECTED
from bailee.domain.custody import Form, Sample
from bailee.domain.moments import Moment
from bailee.domain.requests import asked, due_said
from bailee.domain.statements import Recorded
from bailee.frozen import frozen
from bailee.rules import trips
from bailee.rules.case import Case
from bailee.rules.registry import Hit, rule
from bailee.rules.remedies import advice, do
from bailee.rules.wording import clock, day, samples


@frozen
class Owed:
    """Results that were requested by a day and that no laboratory has issued.

    `since`: the minute in which that day was recorded; `was_past`: it was over by then, which is no
    lateness.
    """

    form: Form
    samples: tuple[str, ...]
    due: date
    lab: str
    since: Moment
    was_past: bool
    is_over: bool


def owed(case: Case) -> Iterator[Owed]:
    """By form and day. What was rejected or is missing has no result; a void sample is none. A day already
    past puts nobody in the wrong, and nobody in the right who was late by then.
    """
    for form in case.forms.values():
        found: dict[tuple[date, str, Moment], list[str]] = {}
        said = due_said(form) if form.requests else {}
        if not said:
            continue
        issued, corrected, late = _issued(form), _corrected(form), Late(case, form)
        for sample in form.live:
            request = said.get(sample.number)
            covered = max((issued.get(lab, 0) for lab in _reporting(form, sample)), default=0)
            if request and sample.status not in (REJECTED, "missing") and covered < _since(form, sample):
                due, entry, lab = request.of(Requested).due, request.entry, form.bound_for(sample)
                assert due
                since = _minute(corrected.get(entry.digest, entry).rec, entry.at)
                if due < _day(case, form, lab, since):
                    due, since = late.by_then(sample, lab) or (due, since)
                found.setdefault((due, lab, since), []).append(sample.number)
        for (due, lab, since), named in found.items():
            was_past = due < _day(case, form, lab, since)
            is_over = due < _day(case, form, lab, case.at) and not was_past
            yield Owed(form, tuple(named), due, lab, since, was_past, is_over)


class Late:
    """Which day for a result was over when one was requested that was over too: the first of them stays."""

    def __init__(self, case: Case, form: Form) -> None:
        self._case, self._form = case, form
        self._said: list[tuple[date, Moment]] = []
        self._of_all: list[int] = []
        self._naming: dict[str, list[int]] = {}
        self._found: dict[tuple[str, tuple[int, ...]], tuple[date, Moment] | None] = {}
        for entry, body in sorted(_versions(form), key=lambda each: each[0].n):
            if body.due:
                place = len(self._said)
                self._said.append((body.due, _minute(entry.rec, entry.at)))
                for number in body.samples or ():
                    self._naming.setdefault(number, []).append(place)
                self._of_all += [place] if body.samples is None else []

    def by_then(self, sample: Sample, lab: str) -> tuple[date, Moment] | None:
        """The day that was owed and over when others already past were requested, and since when it stood."""
        named: list[int] = []
        each: Sample | None = sample
        while each is not None:
            named += self._naming.get(each.number, ())
            each = each.parent
        key = lab, tuple(named)
        if key not in self._found:
            self._found[key] = self._stays(sorted({*self._of_all, *named}), lab)
        return self._found[key]

    def _stays(self, places: Iterable[int], lab: str) -> tuple[date, Moment] | None:
        stays: tuple[date, Moment] | None = None
        for due, since in (self._said[place] for place in places):
            today = _day(self._case, self._form, lab, since)
            if due >= today:
                stays = due, since
            elif stays and stays[0] >= today:
                stays = None
        return stays


def _versions(form: Form) -> Iterator[tuple[Recorded, Requested]]:
    """Each request as it was signed and, by the entry that corrected its day or its samples, as that left
    it.
    """
    made = {said.entry.digest: form.as_signed(said.entry) for said in form.requests}
    told = {digest: dict(entry.data) for digest, entry in made.items()}
    for entry in made.values():
        yield entry, cast("Requested", entry.body)
    for each in form.corrections:
        data = told.get(each.body.statement)
        if data is not None and each.body.field in ("due", "samples") and not each.why_not:
            data[each.body.field] = each.body.new
            due, named = data.get("due"), data.get("samples")
            due = date.fromisoformat(due) if due else None
            yield each.entry, Requested.so_far(due=due, samples=tuple(named) if named else None)


def _minute(rec: datetime, at: Moment) -> Moment:
    return Moment(rec.replace(second=0, microsecond=0), at.offset_minutes)


def _corrected(form: Form) -> dict[str, Recorded]:
    """By request the newest entry that corrected its day, or for which samples it is."""
    return {
        each.body.statement: each.entry
        for each in form.corrections
        if each.body.field in ("due", "samples") and not each.why_not
    }


def _day(case: Case, form: Form, lab: str, at: Moment) -> date:
    """The day it is at the dock of the laboratory; without its hours, on the clocks of the site."""
    dock = case.organizations[lab].calendars.get("lab") if lab in case.organizations else None
    return dock.local_date(at.instant) if dock else form.day_of(at)


def _issued(form: Form) -> dict[str, int]:
    """By laboratory the newest entry that a result of it covers."""
    found: dict[str, int] = {}
    for said in form.copies:
        body, entry = said.of(Copied), said.entry
        if body.of == "result":
            found[entry.org] = max(found.get(entry.org, 0), min(body.entries, entry.n - 1))
    return found


def _reporting(form: Form, sample: Sample) -> Iterator[str]:
    """The laboratories whose result is one of this sample: its own, and those to which it was sent on."""
    each: Sample | None = sample
    while each is not None:
        yield form.bound_for(each)
        each = each.child


def _since(form: Form, sample: Sample) -> int:
    """The entry from which on a result may be one of this sample: its acceptance, or else its receipt."""
    accepted = [said.entry.n for said in sample.decisions if said.entry.act == ACCEPTED]
    received = [link.received.n for link in sample.links if link.received.org in form.laboratories]
    return (accepted[-1:] or received[:1] or [len(form.entries) + 1])[0]


@rule(
    "VP-16", "Result requested before the samples arrive", "warn", "media",
    "common practice, no source",
    advice(
        "Agree with the laboratory on a day that it can keep, and request that.",
        do("requested", "form", due=...),
    ),
)  # fmt: skip
def due_before_receipt(case: Case) -> Iterator[Hit]:
    """The last day for the result is before that of the receipt, expected or recorded. The same day is
    none: many are counted then.
    """
    for form, found in case.visits():
        late: dict[tuple[date, str], list[str]] = {}
        of_each = asked(form) if form.requests else {}
        told_by = _told_by(form)
        for sample in found if of_each else ():
            due = of_each[sample.number].due
            if due and (when := _comes(case, form, sample, due)):
                late.setdefault((due, when), []).append(sample.number)
        for (due, when), numbers in late.items():
            entries = tuple(sorted({_of(told_by[due], number) for number in numbers}))
            said = f"The result of {samples(numbers)} is requested by {day(due)}; {when}."
            yield Hit(form.number, said, entries=entries, names=tuple(numbers))


def _told_by(form: Form) -> dict[date, dict[str | None, int]]:
    """By day and sample the newest request of it; of all samples under None."""
    found: dict[date, dict[str | None, int]] = {}
    for said in form.requests:
        body = said.of(Requested)
        for number in (body.samples or (None,)) if body.due else ():
            assert body.due
            found.setdefault(body.due, {})[number] = said.entry.n
    return found


def _of(told: Mapping[str | None, int], number: str) -> int:
    """The request that names a sample, or else all; what was sent on is asked for as it was before."""
    return told.get(number) or told.get(None) or max(told.values())


def _comes(case: Case, form: Form, sample: Sample, due: date) -> str:
    """When it was received or is expected, in words, where that is on a later day; empty otherwise."""
    if arrived := form.arrival_of(sample):
        return f"received on {clock(arrived)}" if due < arrived.local_date else ""
    under_way = case.once(_expected).get((form.number, sample.number), ())
    return next((said for day, said in under_way if due < day), "")


def _expected(case: Case) -> dict[tuple[str, str], list[tuple[date, str]]]:
    """By form and sample: on which days trips under way are expected to end, and how that is said."""
    found: dict[tuple[str, str], list[tuple[date, str]]] = {}
    for trip in trips.under_way(case):
        if expected := trips.expected(case, trip):
            said = f"{trip.name} is expected at {trip.lab} on {clock(expected)}"
            for form in trip.forms:
                for number in dict.fromkeys(trips.listed(trip, form)):
                    found.setdefault((form.number, number), []).append((expected.local_date, said))
    return found
