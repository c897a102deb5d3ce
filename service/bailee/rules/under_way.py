"""SH: what is worth saying of an envelope that is about to leave, waits to leave, is on its way, or never came."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from typing import Final

from bailee.domain.calendars import Calendar
from bailee.domain.custody import Envelope, Form
from bailee.domain.moments import Moment, duration_words, hours
from bailee.domain.numbers import grouped
from bailee.rules import transit, trips
from bailee.rules.case import Case
from bailee.rules.registry import Hit, rule
from bailee.rules.trips import Trip
from bailee.rules.wording import clock, day, start

_CP: Final = "common practice, no source"


@rule(
    "SH-07", "Great heat or frost forecast for the way", "note", "media", "common practice, no source; the limits are a guess",
    "Choose a faster service or another day (`bailee window --for ENVELOPE --carrier …`), and do not leave the envelope in "
    "a vehicle.",
    afterwards="Nothing to do any more but to tell the laboratory.",
)  # fmt: skip
def weather_on_the_way(case: Case) -> Iterator[Hit]:
    """Only where somebody entered the forecast: hotter or colder than the limits, the limits themselves being in order."""
    for trip in trips.trips(case):
        policy, (low, high) = case.policy(trip.forms[0]), trip.forecast
        if high is not None and high > policy.transit_high_c:
            said = f"Up to {high} °C are forecast on the way of {trip.name}; {policy.transit_high_c} °C is the limit set."
            yield Hit(trip.envelope, said, entries=trip.entries, by=("transit_high_c",))
        if low is not None and low < policy.transit_low_c:
            said = f"Down to {low} °C are forecast on the way of {trip.name}; {policy.transit_low_c} °C is the limit set."
            yield Hit(trip.envelope, said, entries=trip.entries, by=("transit_low_c",))


@rule(
    "SH-08", "Opening hours of the laboratory entered long ago", "note", "media", _CP,
    "Ask the laboratory whether its hours and address still hold; it enters them again: `bailee calendar lab …`.",
)  # fmt: skip
def hours_fresh(case: Case) -> Iterator[Hit]:
    """From the day the ledger heard of them to the hand-over: strictly more than so many days."""
    for trip in trips.under_way(case):
        lab, limit = case.organisations.get(trip.lab), case.policy(trip.forms[0]).hours_age_days
        entered = lab.hours_rec.get("lab") if lab else None
        age = trip.handed_over.instant - entered if entered else timedelta()
        if entered and age > timedelta(days=limit):
            told = day(Moment(entered, trip.handed_over.offset_minutes).local_date)
            said = f"{trip.lab} entered its opening hours on {told}, {age.days} days before {trip.name} is handed over."
            yield Hit(trip.envelope, said, entries=trip.entries, by=("hours_age_days",))


@rule(
    "SH-09", "Sealed and not handed over", "warn", "custody", _CP,
    "Hand it over (`bailee ship ENVELOPE …`), or open it and say why (`bailee unseal ENVELOPE --reason …`). Until then say "
    "how it is kept: `bailee secure ENVELOPE --how … --where …`.",
)  # fmt: skip
def leaves_in_time(case: Case) -> Iterator[Hit]:
    """Strictly more than so many hours after it was sealed, as long as it lies there."""
    for form, envelope in case.envelopes():
        sealing = envelope.sealing
        asked = case.shipping is not None and case.shipping.envelope == envelope.number
        if sealing is None or asked or not waits(form, envelope):
            continue
        waited = case.at.instant - sealing.body.at.instant
        if hours(waited) > case.policy(form).unshipped_h:
            said = (
                f"Envelope {grouped(envelope.number)} was sealed on {clock(sealing.body.at)} and is not handed over "
                f"{duration_words(waited)} later."
            )
            yield Hit(envelope.number, said, entries=(sealing.said.entry.n,), by=("unshipped_h",))


@rule(
    "SH-10", "Expected, and not received", "warn", "custody", _CP,
    "Ask the carrier by the tracking number, then the laboratory; tell the client if samples must be taken again. When it "
    "is there the laboratory says so: `bailee receive ENVELOPE …`.",
)  # fmt: skip
def arrives_in_time(case: Case) -> Iterator[Hit]:
    """Strictly more than so many hours during which the dock was open since the expected receipt. Once received it is history."""
    for trip in trips.under_way(case):
        if trip.entries and (overdue := overdue_since(case, trip)):
            expected, waited = overdue
            if is_overdue(case, trip):
                tracking = f", tracking number {trip.tracking}" if trip.tracking else ""
                said = (
                    f"{start(trip.name)} was expected at {trip.lab} on {clock(expected)} ({trip.carrier}{tracking}) and nobody has received "
                    f"it; the dock has been open for {duration_words(waited)} since."
                )
                yield Hit(trip.envelope, said, entries=trip.entries, by=("overdue_h",))


@rule(
    "SH-11", "Carried by hand, and no receiver has signed", "block", "custody", "county-filed sampling plans that follow EPA: giver and receiver both sign",
    "The person who took the envelope says so now, with the true time: `bailee receive ENVELOPE … --at …`.",
)  # fmt: skip
def received_by_somebody(case: Case) -> Iterator[Hit]:
    """Judged when the laboratory has answered for what was in it, or disposed of it: by then somebody must have taken it over."""
    for trip in trips.under_way(case):
        if not (trip.by_hand and trip.entries):
            continue
        for form in trip.forms:
            closed = [
                sample
                for sample in form.samples.values()
                if trips.inside(trip, form, sample.number)
                and (sample.decision or sample.status == "disposed")
                and sample.holder
                and sample.holder.by_carrier
            ]
            if closed:
                said = f"{start(trip.name)} was carried by hand to {trip.lab}, which answered for its samples; nobody signed for taking it over."
                yield Hit(trip.envelope, said, entries=trip.entries)


@rule(
    "SH-14", "Transport class not decided", "note", "custody", _CP,
    "The shipper decides and says so: `bailee ship ENVELOPE … --classified …`. This program gives no advice on it.",
    afterwards="The shipper decides and says so: `bailee correct FORM --act shipped --field classified --new … --reason left_out`. "
    "This program gives no advice on it.",
)  # fmt: skip
def classified(case: Case) -> Iterator[Hit]:
    """Before a carrier has it or while it has it; a person who carries it by hand is not asked."""
    for trip in trips.under_way(case):
        if trip.classified is None and not trip.by_hand:
            said = f"The shipper has not said how {trip.name} is classified for transport."
            yield Hit(trip.envelope, said, entries=trip.entries)


def overdue_since(case: Case, trip: Trip) -> tuple[Moment, timedelta] | None:
    """The receipt that was expected of a trip, and for how long its dock has been open since; None before, or if unknown."""
    plan = trips.plan(case, trip)
    expected = trip.expected or (plan.received if plan else None)
    if expected is None or case.at <= expected:
        return None
    dock = dock_hours(case, trip.lab, trip.opened.zone, expected)
    return expected, timedelta(
        milliseconds=int(dock.open_minutes(expected.instant, case.at.instant) * 60_000)
    )


def is_overdue(case: Case, trip: Trip) -> bool:
    """Whether the dock has been open for longer than the policy waits (SH-10)."""
    overdue = overdue_since(case, trip)
    return overdue is not None and hours(overdue[1]) > case.policy(trip.forms[0]).overdue_h


def waits(form: Form, envelope: Envelope) -> bool:
    """Whether an envelope is sealed and still with whoever sealed it."""
    sealing = envelope.sealing
    closed = sealing is not None and not sealing.opened and not envelope.shipped and not envelope.docked
    return closed and not _handed_on(form, sealing.body.samples if sealing else [])


def dock_hours(case: Case, org: str, zone: str, near: Moment) -> Calendar:
    """Opening hours of an organisation's dock; ordinary ones in that zone when it entered none."""
    organisation = case.organisations.get(org)
    known = organisation.calendars.get("lab") if organisation else None
    return known or transit.assumed(zone, near, transit.DOCK_HOURS)


def _handed_on(form: Form, inside: list[str]) -> bool:
    """Given from hand to hand, sealed as it is, to another organisation: it has left without a carrier."""
    first = {form.samples[number].links[0].org for number in inside if form.samples[number].links}
    now = {form.samples[number].links[-1].org for number in inside if form.samples[number].links}
    return bool(now) and first.isdisjoint(now)
