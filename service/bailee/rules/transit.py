"""From calendars to a shipping window: what the firm knows of the carrier, and what the laboratory says of its dock.

Three calendars are kept apart because they close on different days: the laboratory's says when the dock is open, the carrier's on
which days it takes and brings envelopes, the firm's own office when there is somebody to hand one over. Where one was never set,
the answer still comes, and `notes` says what it was assumed from.
"""

from __future__ import annotations

from datetime import datetime, time, timedelta
from decimal import Decimal
from typing import Final

from bailee.domain.calendars import KNOWN_YEARS, Calendar
from bailee.domain.form_acts import Opened
from bailee.domain.moments import Moment
from bailee.domain.organisations import Organisation
from bailee.domain.policy import Policy
from bailee.domain.shipping import Plan, Route, Service, latest_hand_over, plan
from bailee.errors import Malformed
from bailee.frozen import frozen
from bailee.rules.bounds import begun
from bailee.rules.case import Case, Shipping
from bailee.rules.wording import clock

WEEKDAYS: Final = ("mon", "tue", "wed", "thu", "fri")
CUTOFF: Final = time(17)
DELIVERY: Final = time(10, 30)
DOCK_HOURS: Final = "08:00-17:00"
_ALL_DAY: Final = ((time(0), time(0)),)


@frozen
class Window:
    """What to expect of a hand-over, the latest one that still meets the limit, and what was assumed."""

    plan: Plan | None
    latest: Moment | None
    notes: tuple[str, ...]
    route: Route | None = None


def window(case: Case, shipping: Shipping) -> Window:
    """The window of an envelope about to be handed over, by whoever does it, from its first form's zone to where it goes."""
    form = next((f for f in case.forms.values() if shipping.envelope in f.envelopes), None)
    if form is None:
        return Window(None, None, ("The envelope is not known.",))
    opened = form.opened.of(Opened)
    return between(
        case.organisations.get(shipping.org),
        case.organisations.get(form.addressed_to(shipping.envelope)),
        carrier=shipping.carrier,
        days=shipping.service_days,
        saturday=shipping.saturday,
        handed_over=shipping.handed_over,
        zone=opened.zone,
        oldest=oldest_run(case, shipping.envelope),
        hold_h=case.policy(form).hold_warn_h,
    )


def oldest_run(case: Case, envelope: str | None = None) -> Moment | None:
    """Start of the oldest run in an envelope, or of the whole case: from then the hold counts (SH-02), by the worst bound of a wrong clock."""
    started = (
        begun(form, sample)
        for form in case.forms.values()
        for sample in form.live
        if envelope is None or sample.envelope == envelope
    )
    return min(started, default=None)


def between(
    firm: Organisation | None,
    lab: Organisation | None,
    *,
    carrier: str,
    days: int,
    saturday: bool,
    handed_over: Moment,
    zone: str,
    oldest: Moment | None = None,
    hold_h: Decimal | None = None,
) -> Window:
    """The window from the calendars of both organisations.

    `oldest`: start of the oldest run, from which the hold of `hold_h` hours counts (not given: the firm's own).
    """
    route, notes = route_of(
        firm, lab, carrier=carrier, days=days, saturday=saturday, zone=zone, near=handed_over
    )
    try:
        expected = plan(handed_over, route)
    except Malformed as error:
        return Window(None, None, (*notes, error.sentence), route)
    hold_h = hold_h if hold_h is not None else (firm.policy if firm else Policy()).hold_warn_h
    limit = None
    if oldest is not None:
        until = held_until(oldest, hold_h)
        limit = latest_hand_over(route, not_after_receipt=until, not_before=oldest.instant)
    return Window(expected, limit, notes, route)


def held_until(oldest: Moment, hold_h: Decimal) -> datetime:
    """The instant at which a hold of so many hours ends, exact to the millisecond."""
    return oldest.instant + timedelta(milliseconds=int(hold_h * 3_600_000))


def route_of(
    firm: Organisation | None,
    lab: Organisation | None,
    *,
    carrier: str,
    days: int,
    saturday: bool,
    zone: str,
    near: Moment,
) -> tuple[Route, tuple[str, ...]]:
    """The route by a carrier, and what of it had to be assumed."""
    notes: list[str] = []
    name = f"carrier/{carrier}"
    carrier_days = firm.calendars.get(name) if firm else None
    if carrier_days is None:
        notes.append(
            f"No calendar was set for {carrier}: Monday to Friday and the federal holidays are assumed."
        )
        carrier_days = assumed(zone, near, "00:00-24:00")
    dock = lab.calendars.get("lab") if lab else None
    if dock is None:
        notes.append(
            "The laboratory has set no opening hours: Monday to Friday 08:00 to 17:00 in the site's zone are assumed."
        )
        dock = assumed(zone, near, DOCK_HOURS)
    cutoff, delivery = (firm.carrier_times.get(name) if firm else None) or (None, None)
    service = Service(f"{days} day", days, saturday, cutoff or CUTOFF, delivery or DELIVERY)
    return Route(service, zone, carrier_days, dock), tuple(notes)


def by_hand(zone: str, dock: Calendar, near: Moment, days: int = 0) -> Route:
    """Handed over at once, at the dock as soon as it is open: no cut-off and no carrier's calendar."""
    year = near.local_date.year
    any_day = Calendar(zone, dict.fromkeys(range(7), _ALL_DAY), known_years=frozenset((year, year + 1)))
    return Route(Service("by hand", days, cutoff=time.max, delivery=time(0)), zone, any_day, dock)


def office_shut(firm: Organisation | None, handed_over: Moment) -> str:
    """A sentence when the firm's own office is shut at the time of a hand-over: nobody is there to make it."""
    office = firm.calendars.get("office") if firm else None
    if office is None or office.is_open(handed_over.instant):
        return ""
    said = f"Your own office is shut on {clock(Moment.shown_in(handed_over.instant, office.zone))}"
    try:
        opens = clock(Moment.shown_in(office.next_open(handed_over.instant), office.zone))
    except Malformed:
        return f"{said}, and shows no opening after it: nobody is there to hand the envelope over."
    return f"{said}: nobody is there to hand the envelope over. It opens on {opens}."


def assumed(zone: str, near: Moment, hours: str) -> Calendar:
    """Monday to Friday with the federal holidays of the year around `near`: a starting point, not a promise.

    A clock that lost its battery may name a year of which no holidays are known: then there are none.
    """
    year = near.local_date.year
    return Calendar.from_data(
        {
            "zone": zone,
            "hours": {day: [hours] for day in WEEKDAYS},
            "closed": ["us-federal"],
            "years": [each for each in (year, year + 1) if each in KNOWN_YEARS],
        }
    )
