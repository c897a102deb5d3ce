"""Trips of envelopes: each hand-over to a carrier or a driver, about to be made or made, and when it would
arrive.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from bailee.domain.acts.form import Opened, Sealed, Shipped
from bailee.domain.custody import Form
from bailee.domain.moments import Moment
from bailee.domain.numbers import grouped
from bailee.domain.opening_hours.delivery_window import DeliveryPlan, Route
from bailee.domain.statements import Draft
from bailee.errors import Malformed
from bailee.frozen import frozen
from bailee.rules import transit
from bailee.rules.case import Case
from bailee.rules.transit import Window


@frozen
class Trip:
    """One hand-over of an envelope by `org`, about to be done or done, with every form in it that is here."""

    said: Shipped
    forms: Sequence[Form]
    org: str
    entries: tuple[int, ...] = ()
    received: Moment | None = None

    @property
    def envelope(self) -> str:
        """The number of the envelope."""
        return self.said.envelope

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
    if asked := case.draft(Shipped):
        forms = [form for form in case.forms.values() if asked.body.envelope in form.envelopes]
        if forms:
            yield Trip(asked.body, forms, asked.org)
    for form, envelope in case.envelopes():
        if envelope.shipped:
            entry = envelope.shipped.entry
            yield Trip(envelope.shipped.of(Shipped), [form], entry.org, (entry.n,), envelope.arrived)


def under_way(case: Case) -> Iterator[Trip]:
    """Trips whose end is still only expected."""
    return (trip for trip in trips(case) if trip.received is None)


def listed(trip: Trip, form: Form) -> Sequence[str]:
    """The samples of a form that lie in the envelope of a trip."""
    envelope = form.envelopes.get(trip.envelope)
    return envelope.sealing.body.samples if envelope and envelope.sealing else ()


def inside(trip: Trip, form: Form, sample: str) -> bool:
    """Whether a sample lies in the envelope of a trip."""
    return sample in listed(trip, form)


def window(case: Case, trip: Trip) -> Window | None:
    """What to expect; None when the laboratory entered no hours, because then nothing can be expected."""
    firm, lab = (case.organizations.get(org) for org in (trip.org, trip.lab))
    dock = lab.calendars.get("lab") if lab else None
    if dock is None:
        return None
    if trip.said.by_hand:
        return transit.carried(dock, trip.said)
    return transit.between(
        firm, lab, carrier=trip.said.carrier, days=trip.said.service_days, saturday=trip.said.saturday,
        handed_over=trip.said.handed_over, zone=trip.opened.zone,
    )  # fmt: skip


def soonest(case: Case, form: Form, closing: Draft[Sealed]) -> Moment:
    """No receipt of an envelope about to be sealed can be sooner: as if it were at the dock at once, and
    taken in when that is open.
    """
    lab, at = form.opened.of(Opened).parties.lab, closing.body.at
    dock = case.organizations[lab].calendars.get("lab") if lab in case.organizations else None
    try:
        return Moment.shown_in(dock.next_open(at.instant), dock.zone) if dock else at
    except Malformed:
        return at


def latest_by_carrier(case: Case, form: Form, closing: Draft[Sealed], oldest: Moment) -> Moment | None:
    """The latest hand-over to any carrier of the firm, next-day service, that still meets the hold; None
    where the dock's hours are not known.

    A Saturday delivery counts: it can be bought. A hold that no hand-over ever met ends when it began.
    """
    opened, firm = form.opened.of(Opened), case.organizations.get(closing.org)
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
            firm,
            lab,
            carrier=carrier,
            days=1,
            saturday=saturday,
            handed_over=closing.body.at,
            zone=opened.zone,
            oldest=oldest,
            hold_h=case.policy(form).hold_warn_h,
        )
        for carrier in names or [""]
        for saturday in (False, True)
    )
    return max((found.latest for found in windows if found.latest), default=oldest)


def plan(case: Case, trip: Trip) -> DeliveryPlan | None:
    """What to expect of a trip; None when it cannot be reckoned."""
    found = window(case, trip)
    return found.plan if found else None


def expected(case: Case, trip: Trip) -> Moment | None:
    """When it is expected at the dock; None where nobody can tell.

    What its sender signed never puts off what the calendars say: nobody would miss a lost envelope.
    """
    found = plan(case, trip)
    told = (trip.said.expected_receipt, found.received if found else None)
    return min(filter(None, told), key=lambda each: each.instant, default=None)


def reckoned(case: Case) -> Iterator[tuple[Trip, Window, DeliveryPlan, Route]]:
    """Trips under way whose arrival can be reckoned."""
    for trip in under_way(case):
        found = window(case, trip)
        if found and found.plan and found.route:
            yield trip, found, found.plan, found.route
