"""SH: an envelope that is about to leave, waits to leave, is on its way, or never came: who carries it, under
which number, and whether anybody misses it.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from typing import Final

from bailee.domain.acts.form import Shipped
from bailee.domain.acts.mentions import airbill
from bailee.domain.custody import Envelope, Form
from bailee.domain.measures import warmth_text
from bailee.domain.moments import Moment, duration_words, hours
from bailee.domain.numbers import grouped
from bailee.domain.opening_hours.calendars import Calendar
from bailee.rules import transit, trips
from bailee.rules.case import Case
from bailee.rules.registry import Hit, Severity, rule
from bailee.rules.remedies import advice, by, do
from bailee.rules.trips import Trip
from bailee.rules.wording import clock, day, printed, start

_CP: Final = "common practice, no source"
_READ_AGAIN: Final = advice(
    "Read the airbill again. If both envelopes travel in one parcel it is right, and stays as a warning;"
    " otherwise enter the number of this one.",
    do("shipped", "envelope", tracking=...),
)
_ONE_PARCEL: Final = advice(
    "Nothing to fix if they traveled in one parcel; otherwise the sampling firm corrects it.",
    do("corrected", "form", of="shipped", field="tracking", new=..., reason="misread"),
)
_NOT_THERE: Final = advice(
    "Call the person who carries it, then the laboratory; notify the client if samples must be collected"
    " again. On arrival the laboratory receives it.",
    do("received", "envelope", dock=True),
)


@rule(
    "SH-06", "Tracking number missing or used twice", "block", "custody",
    "OSHA Technical Manual II:4: ship with tracking to protect custody",
    advice(
        "Enter the tracking number, or mark the envelope as hand-carried.",
        do("shipped", "envelope", tracking=...), do("shipped", "envelope", by_hand=True),
    ),
    afterwards=advice(
        "Read the airbill, and correct the entry.",
        do("corrected", "form", of="shipped", field="tracking", new=..., reason="left_out"),
    ),
)  # fmt: skip
def tracked(case: Case) -> Iterator[Hit]:
    """A carrier signs nothing: its tracking number is all it says about the envelope.

    Several envelopes in one parcel share one.
    """
    for trip in trips.trips(case):
        if not (trip.said.tracking or trip.said.by_hand):
            severity: Severity = "block" if case.policy(trip.forms[0]).tracking_required else "warn"
            said = f"{trip.name} has no tracking number, and is not marked as hand-carried."
            yield Hit(
                trip.envelope,
                start(said),
                severity,
                trip.entries,
                by=("tracking_required",),
                is_proposed=not trip.entries,
            )
        elif trip.said.tracking and (others := _under_one_airbill(case, trip, trip.said.tracking)):
            said = (
                f"Tracking number {trip.said.tracking} is on record for {trip.name} and for"
                f" {printed(others)}."
            )
            yield Hit(
                trip.envelope, said, "warn", trip.entries, remedy=_ONE_PARCEL if trip.entries else _READ_AGAIN
            )


def _under_one_airbill(case: Case, trip: Trip, tracking: str) -> list[str]:
    """Other envelopes that the same organization handed to the same carrier under this number."""
    name = airbill(trip.org, trip.said.carrier, tracking)
    here = {
        each.envelope
        for each in trips.trips(case)
        if each.entries
        and each.said.tracking
        and airbill(each.org, each.said.carrier, each.said.tracking) == name
    }
    beyond = case.elsewhere.airbills.get(name, ()) if case.elsewhere else ()
    return sorted({*here, *beyond} - {trip.envelope})


@rule(
    "SH-07",
    "Heat or freezing forecast for the shipment",
    "note",
    "media",
    "common practice, no source; the limits are an estimate",
    by(
        ("clerk", "inspector"),
        "Choose a faster service or another day. Do not leave the envelope in a vehicle.",
        do("ask_window", "envelope", carrier=...),
    ),
    afterwards="Nothing to fix any more; the laboratory may be notified.",
)
def weather_on_the_way(case: Case) -> Iterator[Hit]:
    """Only where somebody entered the forecast: hotter or colder than the limits, the limits themselves being
    in order.
    """
    for trip in trips.trips(case):
        policy, (low, high) = (
            case.policy(trip.forms[0]),
            (trip.said.forecast_low_c, trip.said.forecast_high_c),
        )
        if high is not None and high > policy.transit_high_c:
            said = (
                f"Forecast for the shipment of {trip.name}: up to {warmth_text(high)};"
                f" limit at most {warmth_text(policy.transit_high_c)}."
            )
            yield Hit(trip.envelope, said, entries=trip.entries, by=("transit_high_c",))
        if low is not None and low < policy.transit_low_c:
            said = (
                f"Forecast for the shipment of {trip.name}: down to {warmth_text(low)};"
                f" limit at least {warmth_text(policy.transit_low_c)}."
            )
            yield Hit(trip.envelope, said, entries=trip.entries, by=("transit_low_c",))


@rule(
    "SH-08", "Laboratory hours not confirmed recently", "note", "media", _CP,
    advice(
        "Ask the laboratory whether its hours and address are current; it enters them again.",
        do("calendar_set", which="lab"),
    ),
)  # fmt: skip
def hours_fresh(case: Case) -> Iterator[Hit]:
    """From the day the ledger heard of them to the hand-over: strictly more than so many days."""
    for trip in trips.under_way(case):
        lab, limit = case.organizations.get(trip.lab), case.policy(trip.forms[0]).hours_age_days
        entered = lab.hours_rec.get("lab") if lab else None
        age = trip.said.handed_over.instant - entered if entered else timedelta()
        if entered and age > timedelta(days=limit):
            told = day(Moment(entered, trip.said.handed_over.offset_minutes).local_date)
            said = (
                f"{trip.lab} entered its opening hours on {told}, {age.days} days before {trip.name} is"
                " shipped."
            )
            yield Hit(trip.envelope, said, entries=trip.entries, by=("hours_age_days",))


@rule(
    "SH-09", "Sealed, no shipment on record", "warn", "custody", _CP,
    advice(
        "Ship it, or open it and record why. Until then record how it is secured.",
        do("shipped", "envelope"), do("unsealed", "envelope", reason=...),
        do("held", "envelope", secured=..., where=...),
    ),
)  # fmt: skip
def leaves_in_time(case: Case) -> Iterator[Hit]:
    """Strictly more than so many hours after it was sealed, as long as it lies there."""
    leaving = case.draft(Shipped)
    for form, envelope in case.envelopes():
        sealing = envelope.sealing
        asked = leaving is not None and leaving.body.envelope == envelope.number
        if sealing is None or asked or not waits(form, envelope):
            continue
        waited = case.at.instant - sealing.body.at.instant
        if hours(waited) > case.policy(form).unshipped_h:
            said = (
                f"Envelope {grouped(envelope.number)} was sealed on {clock(sealing.body.at)};"
                f" {duration_words(waited)} later no shipment is on record."
            )
            yield Hit(envelope.number, said, entries=(sealing.said.entry.n,), by=("unshipped_h",))


@rule(
    "SH-10", "Expected, no receipt on record", "warn", "custody", _CP,
    advice(
        "Ask the carrier by the tracking number, then the laboratory; notify the client if samples must be "
        "collected again. On arrival the laboratory receives it.",
        do("received", "envelope", dock=True),
    ),
)  # fmt: skip
def arrives_in_time(case: Case) -> Iterator[Hit]:
    """Strictly more than so many hours during which the dock was open since the expected receipt.

    Once received it is history.
    """
    for trip in trips.under_way(case):
        if trip.entries and (overdue := overdue_since(case, trip)):
            expected, waited = overdue
            if is_overdue(case, trip):
                tracking = f", tracking number {trip.said.tracking}" if trip.said.tracking else ""
                way = "hand-carried" if trip.said.by_hand else f"{trip.said.carrier}{tracking}"
                said = (
                    f"{start(trip.name)}: expected receipt at {trip.lab} {clock(expected)} ({way}); no"
                    f" receipt is on record, and the dock has been open for {duration_words(waited)} since."
                )
                cure = _NOT_THERE if trip.said.by_hand else None
                yield Hit(trip.envelope, said, entries=trip.entries, by=("overdue_h",), remedy=cure)


@rule(
    "SH-11",
    "Hand-carried, no receiving entry",
    "block",
    "custody",
    "county-filed sampling plans that follow EPA: both sides sign",
    advice(
        "The person who received the envelope signs that now, with the true time.",
        do("received", "envelope", dock=True, at=...),
    ),
)
def received_by_somebody(case: Case) -> Iterator[Hit]:
    """Judged when the laboratory has answered for what was in it, or disposed of it: by then somebody must
    have taken it over.
    """
    for trip in trips.under_way(case):
        if not (trip.said.by_hand and trip.entries):
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
                said = (
                    f"{start(trip.name)} was hand-carried to {trip.lab}, which decided on its samples; no"
                    " receiving entry is on record here."
                )
                yield Hit(trip.envelope, said, entries=trip.entries)


@rule(
    "SH-14", "Transport classification not recorded", "note", "custody", _CP,
    advice(
        "The shipper decides under the rules that apply. This program does not classify.",
        do("shipped", "envelope", classified=...),
    ),
    afterwards=advice(
        "The shipper decides under the rules that apply. This program does not classify.",
        do("corrected", "form", of="shipped", field="classified", new=..., reason="left_out"),
    ),
)  # fmt: skip
def classified(case: Case) -> Iterator[Hit]:
    """Before a carrier has it or while it has it; a person who carries it by hand is not asked."""
    for trip in trips.under_way(case):
        if trip.said.classified is None and not trip.said.by_hand:
            said = f"No entry shows how {trip.name} is classified for transport."
            yield Hit(trip.envelope, said, entries=trip.entries)


_WHO_CARRIES: Final = advice(
    "Add who carries it, and the number of the receipt slip. The name goes into a note, which stays private.",
    do("corrected", "form", of="shipped", field="courier.relation", new=..., reason="left_out"),
    do("corrected", "form", of="shipped", field="courier.named", new=True, reason="left_out"),
    do("corrected", "form", of="shipped", field="courier.slip", new=..., reason="left_out"),
)


@rule(
    "SH-15", "Hand-carried, no person named", "warn", "custody",
    "county-filed sampling plans that follow EPA: giver and receiver both sign; EPA, guidance of November "
    "1992, citing SW-846 chapter 1: each possessor gets a copy",
    advice(
        "Name who carries it, and give the number of the receipt slip that they signed.",
        do("shipped", "envelope", by_hand=True, courier=...),
    ),
    afterwards=_WHO_CARRIES,
)  # fmt: skip
def courier_named(case: Case) -> Iterator[Hit]:
    """Neither a key nor a name; that a name was told is enough, where it is withheld or erased."""
    for trip in trips.trips(case):
        courier = trip.said.courier
        if trip.said.by_hand and not (courier and (courier.kid or courier.named)):
            said = f"{start(trip.name)} is hand-carried, and the entry does not name who carries it."
            yield Hit(trip.envelope, said, entries=trip.entries)


@rule(
    "SH-16", "Expected time of a hand-carried envelope not stated", "note", "media", _CP,
    advice(
        "Add when it is expected at the dock.",
        do("shipped", "envelope", by_hand=True, expected_delivery=...),
    ),
    afterwards=advice(
        "Add when it is expected at the dock.",
        do("corrected", "form", of="shipped", field="expected_delivery", new=..., reason="left_out"),
    ),
)  # fmt: skip
def courier_expected(case: Case) -> Iterator[Hit]:
    """Without it nobody can tell whether the dock is open then, and nobody misses the envelope."""
    for trip in trips.under_way(case):
        if trip.said.by_hand and trip.said.expected_delivery is None:
            said = f"When hand-carried {trip.name} is expected at {trip.lab} was not stated."
            yield Hit(trip.envelope, said, entries=trip.entries)


def overdue_since(case: Case, trip: Trip) -> tuple[Moment, timedelta] | None:
    """The receipt that was expected of a trip, and for how long its dock has been open since.

    None before, or if unknown.
    """
    expected = trips.expected(case, trip)
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
    closed = sealing is not None and not sealing.opened and not envelope.shipped and not envelope.arrived
    return closed and not _handed_on(form, sealing.body.samples if sealing else [])


def dock_hours(case: Case, org: str, zone: str, near: Moment) -> Calendar:
    """Opening hours of an organization's dock; ordinary ones in that zone when it entered none."""
    organization = case.organizations.get(org)
    known = organization.calendars.get("lab") if organization else None
    return known or transit.assumed(zone, near, transit.DOCK_HOURS)


def _handed_on(form: Form, inside: list[str]) -> bool:
    """Given from hand to hand, sealed as it is, to another organization: it has left without a carrier."""
    first = {form.samples[number].links[0].org for number in inside if form.samples[number].links}
    now = {form.samples[number].links[-1].org for number in inside if form.samples[number].links}
    return bool(now) and first.isdisjoint(now)
