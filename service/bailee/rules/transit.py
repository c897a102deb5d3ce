"""From calendars to a shipping window: what the firm knows of the carrier, and what the laboratory says of its dock.

Three calendars are kept apart because they close on different days. Where one was never set, the answer still comes, and `notes` says
what it was assumed from.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import time, timedelta
from decimal import Decimal
from typing import Final

from bailee.domain.calendars import Calendar
from bailee.domain.form_acts import Opened
from bailee.domain.moments import Moment
from bailee.domain.organisations import Organisation
from bailee.domain.policy import Policy
from bailee.domain.shipping import Plan, Route, Service, latest_hand_over, plan
from bailee.errors import Malformed
from bailee.rules.case import Case, Shipping

WEEKDAYS: Final = ("mon", "tue", "wed", "thu", "fri")
CUTOFF: Final = time(17)
DELIVERY: Final = time(10, 30)
DOCK_HOURS: Final = "08:00-17:00"


@dataclass(frozen=True, slots=True)
class Window:
    """What to expect of a hand-over, the latest one that still meets the limit, and what was assumed."""

    plan: Plan | None
    latest: Moment | None
    notes: tuple[str, ...]
    route: Route | None = None


def window(case: Case, shipping: Shipping) -> Window:
    """The window of an envelope about to be handed over, from its first form's parties and zone."""
    form = next((f for f in case.forms.values() if shipping.envelope in f.envelopes), None)
    if form is None:
        return Window(None, None, ("The envelope is not known.",))
    opened = form.opened.of(Opened)
    stops = [
        s.stopped
        for f in case.forms.values()
        for s in f.live
        if s.envelope == shipping.envelope and s.stopped
    ]
    return between(
        case.organisations.get(opened.parties.firm),
        case.organisations.get(opened.parties.lab),
        carrier=shipping.carrier,
        days=shipping.service_days,
        saturday=shipping.saturday,
        handed_over=shipping.handed_over,
        zone=opened.zone,
        first_stop=min(stops, default=None),
        hold_h=case.policy(form).hold_warn_h,
    )


def between(
    firm: Organisation | None,
    lab: Organisation | None,
    *,
    carrier: str,
    days: int,
    saturday: bool,
    handed_over: Moment,
    zone: str,
    first_stop: Moment | None = None,
    hold_h: Decimal | None = None,
) -> Window:
    """The window from the calendars of both organisations.

    `first_stop`: end of the oldest run, from which the hold of `hold_h` hours counts (not given: the firm's own).
    """
    notes: list[str] = []
    name = f"carrier/{carrier}"
    carrier_days = firm.calendars.get(name) if firm else None
    if carrier_days is None:
        notes.append(
            f"No calendar was set for {carrier}: Monday to Friday and the federal holidays are assumed."
        )
        carrier_days = assumed(zone, handed_over, "00:00-24:00")
    dock = lab.calendars.get("lab") if lab else None
    if dock is None:
        notes.append(
            "The laboratory has set no opening hours: Monday to Friday 08:00 to 17:00 in the site's zone are assumed."
        )
        dock = assumed(zone, handed_over, DOCK_HOURS)
    cutoff, delivery = (firm.carrier_times.get(name) if firm else None) or (None, None)
    service = Service(f"{days} day", days, saturday, cutoff or CUTOFF, delivery or DELIVERY)
    route = Route(service, zone, carrier_days, dock)
    try:
        expected = plan(handed_over, route)
    except Malformed as error:
        return Window(None, None, (*notes, error.sentence), route)
    hold_h = hold_h if hold_h is not None else (firm.policy if firm else Policy()).hold_warn_h
    limit = None
    if first_stop is not None:
        hold = Moment(first_stop.instant + timedelta(hours=float(hold_h)), first_stop.offset_minutes)
        limit = latest_hand_over(route, not_after_receipt=hold.instant, not_before=first_stop.instant)
    return Window(expected, limit, tuple(notes), route)


def assumed(zone: str, near: Moment, hours: str) -> Calendar:
    """Monday to Friday with the federal holidays of the year around `near`: a starting point, not a promise."""
    year = near.local_date.year
    return Calendar.from_data(
        {
            "zone": zone,
            "hours": {day: [hours] for day in WEEKDAYS},
            "closed": ["us-federal"],
            "years": [year, year + 1],
        }
    )
