"""Trips of envelopes: each hand-over to a carrier or a driver, about to be made or made, and when it would arrive."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from decimal import Decimal

from bailee.domain import delivery_window
from bailee.domain.acts.form import Opened, Received, Shipped
from bailee.domain.calendars import Calendar
from bailee.domain.custody import Form
from bailee.domain.delivery_window import Plan, Route
from bailee.domain.moments import Moment
from bailee.domain.numbers import grouped
from bailee.errors import Malformed
from bailee.frozen import frozen
from bailee.rules import transit
from bailee.rules.case import Case, Sealing
from bailee.rules.transit import Window


@frozen
class Trip:
    """One hand-over of an envelope, about to be done or done, with every form in it that is here.

    `org` hands it over. `forecast`: the coldest and hottest air on the way, degrees Celsius. `expected`: the receipt expected then.
    """

    envelope: str
    forms: Sequence[Form]
    carrier: str
    service_days: int
    saturday: bool
    by_hand: bool
    tracking: str | None
    handed_over: Moment
    org: str
    classified: str | None = None
    forecast: tuple[Decimal | None, Decimal | None] = (None, None)
    entries: tuple[int, ...] = ()
    expected: Moment | None = None
    received: Moment | None = None

    @property
    def opened(self) -> Opened:
        """The first form's opening: all forms of an envelope have one firm and one laboratory."""
        return self.forms[0].opened.of(Opened)

    @property
    def lab(self) -> str:
        """The laboratory it goes to."""
        return self.forms[0].addressed_to(self.envelope)

    @property
    def name(self) -> str:
        """The envelope as printed."""
        return f"envelope {grouped(self.envelope)}"


def trips(case: Case) -> Iterator[Trip]:
    """The one asked about, and every one that was made, as each form of the envelope tells it."""
    asked = case.shipping
    if asked:
        forms = [form for form in case.forms.values() if asked.envelope in form.envelopes]
        if forms:
            yield Trip(
                asked.envelope, forms, asked.carrier, asked.service_days, asked.saturday, asked.by_hand, asked.tracking, asked.handed_over,
                asked.org, asked.classified, (asked.forecast_low_c, asked.forecast_high_c),
            )  # fmt: skip
    for form, envelope in case.envelopes():
        if envelope.shipped:
            body, docked = envelope.shipped.of(Shipped), envelope.docked
            yield Trip(
                envelope.number, [form], body.carrier, body.service_days, body.saturday, body.by_hand, body.tracking,
                body.handed_over, envelope.shipped.entry.org, body.classified, (body.forecast_low_c, body.forecast_high_c),
                (envelope.shipped.entry.n,), body.expected_receipt, docked.of(Received).at if docked else None,
            )  # fmt: skip


def under_way(case: Case) -> Iterator[Trip]:
    """Trips whose end is still only expected."""
    return (trip for trip in trips(case) if trip.received is None)


def inside(trip: Trip, form: Form, sample: str) -> bool:
    """Whether a sample lies in the envelope of a trip."""
    envelope = form.envelopes.get(trip.envelope)
    return bool(envelope and envelope.sealing and sample in envelope.sealing.body.samples)


def window(case: Case, trip: Trip) -> Window | None:
    """What to expect; None when the laboratory entered no hours, because then nothing can be expected."""
    firm, lab = (case.organizations.get(org) for org in (trip.org, trip.lab))
    dock = lab.calendars.get("lab") if lab else None
    if dock is None:
        return None
    if trip.by_hand:
        return _by_hand(trip, dock)
    return transit.between(
        firm, lab, carrier=trip.carrier, days=trip.service_days, saturday=trip.saturday,
        handed_over=trip.handed_over, zone=trip.opened.zone,
    )  # fmt: skip


def soonest(case: Case, form: Form, sealing: Sealing) -> Moment:
    """The soonest receipt of an envelope about to be sealed: carried by hand at once, and taken in when the dock is open."""
    lab = form.opened.of(Opened).parties.lab
    trip = Trip(
        sealing.envelope, [form], "by hand", service_days=0, saturday=False, by_hand=True, tracking=None,
        handed_over=sealing.at, org=sealing.org,
    )  # fmt: skip
    dock = case.organizations[lab].calendars.get("lab") if lab in case.organizations else None
    found = _by_hand(trip, dock).plan if dock else None
    return found.received if found else sealing.at


def latest_by_carrier(case: Case, form: Form, sealing: Sealing, oldest: Moment) -> Moment | None:
    """The latest hand-over to any carrier of the firm, next-day service, that still meets the hold; None where the dock's hours are not known.

    A Saturday delivery counts: it can be bought. A hold that no hand-over ever met ends when it began.
    """
    opened, firm = form.opened.of(Opened), case.organizations.get(sealing.org)
    lab = case.organizations.get(opened.parties.lab)
    if lab is None or "lab" not in lab.calendars:
        return None
    names = (
        [name.removeprefix("carrier/") for name in firm.calendars if name.startswith("carrier/")]
        if firm
        else []
    )
    windows = (
        transit.between(
            firm, lab, carrier=carrier, days=1, saturday=saturday, handed_over=sealing.at, zone=opened.zone, oldest=oldest,
            hold_h=case.policy(form).hold_warn_h,
        )
        for carrier in names or [""]
        for saturday in (False, True)
    )  # fmt: skip
    return max((found.latest for found in windows if found.latest), default=oldest)


def _by_hand(trip: Trip, dock: Calendar) -> Window:
    route = transit.by_hand(trip.opened.zone, dock, trip.handed_over, trip.service_days)
    try:
        return Window(delivery_window.plan(trip.handed_over, route), None, (), route)
    except Malformed as error:
        return Window(None, None, (error.sentence,), route)


def plan(case: Case, trip: Trip) -> Plan | None:
    """What to expect of a trip; None when it cannot be reckoned."""
    found = window(case, trip)
    return found.plan if found else None


def reckoned(case: Case) -> Iterator[tuple[Trip, Window, Plan, Route]]:
    """Trips under way whose arrival can be reckoned."""
    for trip in under_way(case):
        found = window(case, trip)
        if found and found.plan and found.route:
            yield trip, found, found.plan, found.route
