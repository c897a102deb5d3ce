"""The chase list: what somebody is waiting for, by when, and who must move. Pure: a case in, a list out.

Sentences say when something is due and never how long ago that is, so that the same list is the same text an
hour later.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from datetime import date, timedelta
from decimal import Decimal
from typing import Final, Literal

from bailee.domain import numbers
from bailee.domain.acts.form import Decision, Opened, Relinquished, TakenIn
from bailee.domain.custody import Form, Said, Sample
from bailee.domain.lots import Lot
from bailee.domain.moments import Moment
from bailee.domain.numbers import grouped
from bailee.domain.organizations import Organization
from bailee.domain.policy import Policy
from bailee.frozen import frozen
from bailee.rules import trips
from bailee.rules.case import Case
from bailee.rules.checks import decisions, in_hand, notices
from bailee.rules.checks.envelope import under_way
from bailee.rules.checks.envelope.at_the_dock import close_of_day
from bailee.rules.checks.laboratory import collected_again, requested
from bailee.rules.readers import EVERYBODY, Audience, ToldAct
from bailee.rules.remedies import Remedy, advice, do, for_all
from bailee.rules.wording import clock, day, listed, printed, samples, start, were

Kind = Literal[
    "not secured",
    "not sealed",
    "not shipped",
    "not received",
    "not taken",
    "not opened",
    "not called",
    "not notified",
    "result due",
    "not collected again",
    "expiring",
    "expired",
    "not accounted for",
]

_REMEDIES: Final[dict[Kind, Remedy]] = {
    "not secured": advice(
        "The person who has them enters how they are secured, and from when on; then they are sealed.",
        do("held", "sample", secured=..., where=..., since=...),
    ),
    "not sealed": advice(
        "Count them, seal them in an envelope and ship it; or void what will not be analyzed.",
        do("sealed", "sample", envelope=...),
        do("voided", "sample", reason=...),
    ),
    "not shipped": advice(
        "Ship it, or open it and record why it waits.",
        do("shipped", "envelope"),
        do("unsealed", "envelope", reason=...),
    ),
    "not received": advice(
        "Ask the carrier by the tracking number, or the person who carries it; then the laboratory."
    ),
    "not taken": advice(
        "Who has them counts them, reads the numbers, and signs that they received them.",
        do("received", "sample"),
    ),
    "not opened": advice(
        "Open it and receive what is in it; until then enter how it is secured.",
        do("received", "envelope", dock=True),
        do("held", "envelope", secured=..., where=...),
    ),
    "not called": advice(
        "Call the sampling firm, and enter whom, when and the reply.",
        do("on_hold", "sample", "envelope", called=..., called_person=..., answer=...),
    ),
    "not notified": advice(
        "Notify each holder of a copy, and enter whom, how and when.",
        do("notified", "form", of="recall", about=..., to=..., how=..., at=...),
    ),
    "result due": advice(
        "Issue the result and record that.",
        do("copied", "form", of="result"),
    )
    + for_all(
        "Where the day cannot be kept, agree on another, and the firm requests that.",
        do("requested", "form", due=...),
    ),
    "not collected again": advice(
        "Collect again, and name the sample that it replaces; or the laboratory records that it is not"
        " possible any more.",
        do("collected", sample=..., replaces=...),
        do("rejected", "sample", resample="not_possible"),
    ),
    "expiring": advice("Use this lot first; order a new one."),
    "expired": advice(
        "Remove it from the shelf and record the count.", do("counted", "lot", remaining=0, voided=...)
    ),
    "not accounted for": advice(
        "Search the kit, the vehicle and on site. A used one is recorded by its inspector, the others are"
        " voided.",
        do("collected", sample=...),
        do("voided", sample=..., form=..., reason="lost"),
    ),
}


@frozen
class Due:
    """One thing to chase: about which number, whose move it is, by when, and whether that is over.

    `concerns` are the organizations that should see it. `due` is text: an RFC 3339 moment, or a day.
    `voided`: how many cassettes of an expired lot nobody may use. `lot`: which one was recalled. `to`: the
    organization, and the key if one was named, that is to receive what was relinquished.
    """

    kind: Kind
    about: str
    concerns: tuple[str, ...]
    due: str
    overdue: bool
    sentence: str
    voided: int | None = None
    lot: str | None = None
    to: tuple[str, str | None] | None = None

    @property
    def remedy(self) -> str:
        """What to do now."""
        return _REMEDIES[self.kind].words

    def told(self, reader: Audience) -> Remedy:
        """The same as this reader is told it: with the acts that they can do, else whom to ask."""
        return _REMEDIES[self.kind].at("office", reader)

    def is_for(self, reader: Audience) -> bool:
        """Whether this reader can do something about it, and not only ask others."""
        return any(part.by(reader) for part in _REMEDIES[self.kind].parts)

    @property
    def acts(self) -> tuple[ToldAct, ...]:
        """The same, as acts a program can offer (`rules.remedies`)."""
        return self.offered(EVERYBODY)

    def offered(self, reader: Audience) -> tuple[ToldAct, ...]:
        """Of the acts those that this reader can do."""
        told = self.told(reader).acts({numbers.kind_of(self.about) or "": self.about})
        known = {
            name: value for name, value in (("voided", self.voided), ("about", self.lot)) if value is not None
        }
        return tuple({name: known.get(name, value) for name, value in each.items()} for each in told)


def chase(case: Case, lots: Iterable[Lot], used: Collection[str]) -> list[Due]:
    """Everything to chase in these forms and lots, what is overdue first, then by when it is due.

    `used` are numbers known to be collected or voided somewhere: those are accounted for.
    """
    found = [
        *_in_hand(case),
        *_not_shipped(case),
        *_not_received(case),
        *_not_taken(case),
        *_not_opened(case),
        *_differences(case),
        *_on_hold(case),
        *_not_told(case),
        *_not_reported(case),
        *_not_again(case),
        *(each for lot in lots for each in (*_expiring(case, lot), *_kits(case, lot, used))),
    ]
    return in_order(found)


def in_order(found: Iterable[Due]) -> list[Due]:
    """Each thing once, what is overdue first, then by when it is due.

    The same sentence that concerns others, or is due at another time, is another thing: who repeats a
    sentence on a form of their own neither replaces nor moves it.
    """
    return sorted(dict.fromkeys(found), key=lambda each: (not each.overdue, each.due, each.about))


def _in_hand(case: Case) -> Iterator[Due]:
    """What was collected and lies in no envelope: it is to be secured, and once it is, to be sealed."""
    for each in in_hand.in_hand(case):
        policy, who = case.policy(each.form), case.person(each.holder.org, each.holder.kid)
        are, number = ("is" if len(each.samples) == 1 else "are"), each.samples[0].number
        they = "it is" if are == "is" else "they are"
        here = f"{start(each.named)} of form {grouped(each.form.number)} {are} with {who}"
        concerns = tuple(dict.fromkeys([each.form.opened.of(Opened).parties.firm, each.holder.org]))
        if each.since:
            until = each.since.moved(_hours(policy.unsecured_h))
            said = f"{here} since {clock(each.since)}, and no entry shows how {they} secured."
            yield Due("not secured", number, concerns, until.text(), case.at > until, said)
        else:
            until = each.ended.moved(_hours(policy.unshipped_h))
            said = f"{here}, secured and not sealed; the last run ended on {clock(each.ended)}."
            yield Due("not sealed", number, concerns, until.text(), case.at > until, said)


def _hours(allowed: Decimal) -> timedelta:
    return timedelta(milliseconds=int(allowed * 3_600_000))


def _not_shipped(case: Case) -> Iterator[Due]:
    for form, envelope in case.envelopes():
        sealing = envelope.sealing
        if sealing and under_way.waits(form, envelope):
            waits = _hours(case.policy(form).unshipped_h)
            said = (
                f"Envelope {grouped(envelope.number)} was sealed on {clock(sealing.body.at)}; no shipment is"
                " on record."
            )
            until = sealing.body.at.moved(waits)
            yield Due(
                "not shipped", envelope.number, (sealing.said.entry.org,), until.text(), case.at > until, said
            )


def _not_received(case: Case) -> Iterator[Due]:
    for trip in trips.under_way(case):
        expected = trips.expected(case, trip)
        if trip.entries and expected:
            tracking = f", tracking number {trip.said.tracking}" if trip.said.tracking else ""
            way = "hand-carried" if trip.said.by_hand else f"{trip.said.carrier}{tracking}"
            said = (
                f"{start(trip.name)} left on {clock(trip.said.handed_over)} ({way})"
                f" and is expected at {trip.lab} on {clock(expected)}."
            )
            yield Due(
                "not received",
                trip.envelope,
                (trip.org, trip.lab),
                expected.text(),
                under_way.is_overdue(case, trip),
                said,
            )


def _not_taken(case: Case) -> Iterator[Due]:
    """Relinquished and received by nobody; by the time that was given, or as soon as anything is to be
    secured.
    """
    for form in case.forms.values():
        given: dict[int, tuple[Said, list[Sample]]] = {}
        for sample in form.live:
            if sample.given:
                given.setdefault(sample.given.entry.n, (sample.given, []))[1].append(sample)
        for said, lacking in given.values():
            body, number = said.of(Relinquished), lacking[0].number
            by, on = case.person(said.entry.org, said.entry.kid), clock(body.at)
            these = f"{samples([each.number for each in lacking])} of form {grouped(form.number)}"
            concerns = tuple(dict.fromkeys([said.entry.org, body.to]))
            if body.expected:
                late, until = case.at > body.expected, body.expected.text()
                told = (
                    f"{start(these)} {were(lacking)} relinquished by {by} to {body.to} on {on}, expected"
                    f" there on {clock(body.expected)}; no receiving entry is on record."
                )
                yield Due("not received", number, concerns, until, late, told)
                continue
            due = body.at.moved(_hours(case.policy(form).unsecured_h))
            whom = case.person(body.to, body.to_kid) if body.to_kid else body.to
            told = f"{by} relinquished {these} to {whom} on {on}; no receiving entry is on record."
            yield Due(
                "not taken", number, concerns, due.text(), case.at > due, told, to=(body.to, body.to_kid)
            )


def _not_opened(case: Case) -> Iterator[Due]:
    """Taken in at a laboratory and opened by nobody: nothing of what is inside has been seen."""
    for form, envelope in case.envelopes():
        taken = envelope.taken_in.said if envelope.taken_in and not envelope.arrivals else None
        if taken:
            at, days = taken.of(TakenIn).at, case.policy(form).call_working_days
            due = Moment(close_of_day(case, form, taken.entry.n, at, days), at.offset_minutes)
            said = (
                f"Envelope {grouped(envelope.number)} was taken in at {taken.entry.org} on {clock(at)}; no"
                " entry shows that it was opened."
            )
            yield Due("not opened", envelope.number, _concerned(form), due.text(), case.at > due, said)


def _differences(case: Case) -> Iterator[Due]:
    for each in decisions.differences_found(case):
        if each.called is None:
            until = Moment(each.due, each.received.offset_minutes)
            said = (
                f"Discrepancies on receipt of envelope {grouped(each.envelope)}, {clock(each.received)}"
                f" ({listed(each.rules)}); "
                + (
                    f"the call on record, {clock(each.early)}, is before that."
                    if each.early
                    else "no call to the sampling firm is on record."
                )
            )
            yield Due("not called", each.envelope, _concerned(each.form), until.text(), case.at > until, said)


def _on_hold(case: Case) -> Iterator[Due]:
    said_already = {each.envelope for each in decisions.differences_found(case)}
    for form in case.forms.values():
        by_entry: dict[int, list[Sample]] = {}
        for sample in form.samples.values():
            silent = sample.status == "on_hold" and not any(s.of(Decision).called for s in sample.decisions)
            if silent and sample.envelope not in said_already and sample.decision:
                by_entry.setdefault(sample.decision.entry.n, []).append(sample)
        for n, held in by_entry.items():
            assert held[0].decision
            at = held[0].decision.of(Decision).at
            due = Moment(
                close_of_day(case, form, n, at, case.policy(form).call_working_days), at.offset_minutes
            )
            names = samples([sample.number for sample in held])
            said = (
                f"{start(names)} of form {grouped(form.number)} {('is' if len(held) == 1 else 'are')} on hold"
                f" since {clock(at)}; no call to the sampling firm is on record."
            )
            yield Due("not called", held[0].number, _concerned(form), due.text(), case.at > due, said)


def _not_told(case: Case) -> Iterator[Due]:
    for each in notices.recalled_after_a_copy(case):
        if each.told is None:
            form = grouped(each.form.number)
            said = f"{each.what}; no entry on form {form} shows that its holders were notified."
            late = case.at > each.due
            about, due = each.form.number, each.due.text()
            yield Due("not notified", about, _concerned(each.form), due, late, said, lot=each.lot.number)


def _not_reported(case: Case) -> Iterator[Due]:
    for each in requested.owed(case):
        form = each.form
        by, on = day(each.due), f"requested on {clock(each.since)}"
        when = f"was {on} for a day already past, {by}" if each.was_past else f"is requested by {by}, {on}"
        said = (
            f"The result of {samples(each.samples)} of form {grouped(form.number)} {when}; no result of"
            f" {each.lab} is on record."
        )
        yield Due("result due", form.number, _concerned(form), each.due.isoformat(), each.is_over, said)


def _not_again(case: Case) -> Iterator[Due]:
    for each in collected_again.asked_again(case):
        said = f"{each.what}, form {grouped(each.form.number)}; none is on record."
        about, late = each.samples[0], case.at > each.due
        yield Due("not collected again", about, _concerned(each.form), each.due.text(), late, said)


def _expiring(case: Case, lot: Lot) -> Iterator[Due]:
    organization = case.organizations.get(lot.org)
    now = lot.on(_today(case, organization), organization.policy if organization else Policy())
    if now and lot.left > 0 and (now.is_near or not now.in_date):
        said = (
            f"Lot {grouped(lot.number)} ({lot.maker_lot}): expiration date {day(now.last)}; {lot.left}"
            " cassettes on the shelf."
        )
        last = now.last.isoformat()
        if now.may_be_used:
            yield Due("expiring", lot.number, (lot.org,), last, not now.in_date, said)
        else:
            yield Due("expired", lot.number, (lot.org,), last, overdue=True, sentence=said, voided=lot.left)


def _kits(case: Case, lot: Lot, used: Collection[str]) -> Iterator[Due]:
    today = _today(case, case.organizations.get(lot.org))
    by_visit: dict[date, list[str]] = {}
    for number, issued in lot.issued.items():
        if issued.visit and issued.visit < today and number not in used:
            by_visit.setdefault(issued.visit, []).append(number)
    for visit, lost in by_visit.items():
        said = (
            f"Issued from lot {grouped(lot.number)} for {day(visit)}, no collection or void on record:"
            f" {printed(sorted(lost))}."
        )
        yield Due("not accounted for", lot.number, (lot.org,), visit.isoformat(), overdue=True, sentence=said)


def _concerned(form: Form) -> tuple[str, ...]:
    return (form.opened.of(Opened).parties.firm, *form.laboratories)


def _today(case: Case, organization: Organization | None) -> date:
    """The day it is at an organization's office; nobody's day is that of universal time."""
    return organization.day_at(case.at.instant) if organization else case.at.instant.date()
