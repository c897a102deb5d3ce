"""From calendars to a shipping window: what the firm knows of the carrier, and what the laboratory says of
its dock.

Three calendars are kept apart because they close on different days: the laboratory's says when the dock is
open, the carrier's on which days it takes and brings envelopes, the firm's own office when there is somebody
to hand one over. Where one was never set, the answer still comes, and `notes` says what it was assumed from.

What a shipping plan says of itself, in sentences: shared by the rules on envelopes and by the planner, which
has none yet.

Each function returns an empty text when there is nothing to say.
"""

from __future__ import annotations

from datetime import datetime, time, timedelta
from decimal import Decimal
from typing import Final

from bailee.domain.acts.form import Opened, Shipped
from bailee.domain.moments import Moment, duration_words, hours_between, named_zone
from bailee.domain.opening_hours import delivery_window
from bailee.domain.opening_hours.calendars import KNOWN_YEARS, Calendar, at_local
from bailee.domain.opening_hours.delivery_window import DeliveryPlan, Route, Service, latest_hand_over, plan
from bailee.domain.organizations import Organization
from bailee.domain.policy import Policy
from bailee.domain.statements import Draft
from bailee.errors import Malformed
from bailee.frozen import frozen
from bailee.rules.case import Case
from bailee.rules.clock_bounds import begun
from bailee.rules.wording import listed, start, weekday, weekday_clock

WEEKDAYS: Final = ("mon", "tue", "wed", "thu", "fri")
CUTOFF: Final = time(17)
DELIVERY: Final = time(10, 30)
DOCK_HOURS: Final = "08:00-17:00"


@frozen
class Window:
    """What to expect of a hand-over, the latest one that still meets the limit, and what was assumed."""

    plan: DeliveryPlan | None
    latest: Moment | None
    notes: tuple[str, ...]
    route: Route | None = None


def window(case: Case, leaving: Draft[Shipped]) -> Window:
    """The window of an envelope about to be handed over, by whoever does it, from its first form's zone to
    where it goes.
    """
    said = leaving.body
    form = next((f for f in case.forms.values() if said.envelope in f.envelopes), None)
    if form is None:
        return Window(None, None, ("The envelope is not on record.",))
    opened, lab = form.opened.of(Opened), case.organizations.get(form.addressed_to(said.envelope))
    if said.by_hand:
        return carried(lab.calendars.get("lab") if lab else None, said)
    return between(
        case.organizations.get(leaving.org),
        lab,
        carrier=said.carrier,
        days=said.service_days,
        saturday=said.saturday,
        handed_over=said.handed_over,
        zone=opened.zone,
        oldest=oldest_run(case, said.envelope),
        hold_h=case.policy(form).hold_warn_h,
    )


def oldest_run(case: Case, envelope: str | None = None) -> Moment | None:
    """Start of the oldest run in an envelope, or of the whole case: from then the hold counts (SH-02), by the
    worst bound of a wrong clock.
    """
    started = (
        begun(form, sample)
        for form in case.forms.values()
        for sample in form.live
        if envelope is None or sample.envelope == envelope
    )
    return min(started, default=None)


def between(
    firm: Organization | None,
    lab: Organization | None,
    *,
    carrier: str,
    days: int,
    saturday: bool,
    handed_over: Moment,
    zone: str,
    oldest: Moment | None = None,
    hold_h: Decimal | None = None,
) -> Window:
    """The window from the calendars of both organizations.

    `oldest`: start of the oldest run, from which the hold of `hold_h` hours counts (not given: the firm's
    own).
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
    return oldest.moved(timedelta(milliseconds=int(hold_h * 3_600_000))).instant


def route_of(
    firm: Organization | None,
    lab: Organization | None,
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
            f"No calendar on record for {carrier}: Monday to Friday and the federal holidays are assumed."
        )
        carrier_days = assumed(zone, near, "00:00-24:00")
    dock = lab.calendars.get("lab") if lab else None
    if dock is None:
        notes.append(
            "The laboratory has no opening hours on record: Monday to Friday 08:00 to 17:00 in the site's"
            " zone are assumed."
        )
        dock = assumed(zone, near, DOCK_HOURS)
    cutoff, delivery = (firm.carrier_times.get(name) if firm else None) or (None, None)
    service = Service(f"{days} day", days, saturday, cutoff or CUTOFF, delivery or DELIVERY)
    return Route(service, zone, carrier_days, dock), tuple(notes)


def carried(dock: Calendar | None, said: Shipped) -> Window:
    """The window of what a person carries: their own time, and the dock's hours; no plan where either is not
    known.
    """
    if dock is None or said.expected_delivery is None:
        return Window(None, None, ())
    try:
        return Window(delivery_window.carried(said.expected_delivery, dock), None, ())
    except Malformed as error:
        return Window(None, None, (error.sentence,))


def carried_in_time(route: Route, oldest: Moment | None, hold_h: Decimal | None, now: Moment) -> str:
    """Until when somebody who carries it has to be at the open dock; empty where no limit is known, or it is
    past.
    """
    until = None
    if oldest is not None and hold_h is not None:
        until = route.lab.last_open(held_until(oldest, hold_h))
    if until is None or until < now.instant:
        return ""
    return (
        "Hand-carried, it can be received in time at the open dock until"
        f" {weekday_clock(Moment.shown_in(until, route.lab.zone))}."
    )


def office_shut(firm: Organization | None, handed_over: Moment) -> str:
    """A sentence when the firm's own office is shut at the time of a hand-over: nobody is there
    to make it.
    """
    office = firm.calendars.get("office") if firm else None
    if office is None or office.is_open(handed_over.instant):
        return ""
    said = f"Your own office is closed on {weekday_clock(Moment.shown_in(handed_over.instant, office.zone))}"
    try:
        opens = weekday_clock(Moment.shown_in(office.next_open(handed_over.instant), office.zone))
    except Malformed:
        return f"{said}, and has no opening after it on record."
    return f"{said}. It opens on {opens}."


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


_SATURDAY: Final = 5


def dock_shut(name: str, lab: str, plan: DeliveryPlan, route: Route) -> str:
    """SH-01: the delivery, that the dock is shut then, and the next opening, on the laboratory's clock alone.

    A Saturday bought for nothing is SH-05.
    """
    if not plan.dock_shut or is_saturday_for_nothing(plan, route):
        return ""
    return (
        f"{start(name)}: expected delivery {weekday_clock(plan.delivered)}, when {lab} is closed; expected"
        f" receipt {weekday_clock(plan.received)}."
    )


def carried_to_a_shut_dock(name: str, lab: str, plan: DeliveryPlan) -> str:
    """SH-01 of what a person carries: when they expect to be there, and the next opening."""
    if not plan.dock_shut:
        return ""
    return (
        f"{start(name)}, hand-carried: expected delivery {weekday_clock(plan.delivered)}, when {lab} is"
        f" closed; expected receipt {weekday_clock(plan.received)}."
    )


def _beside(instant: Moment, other: Moment) -> str:
    """A moment as the clock of another would show it."""
    return weekday_clock(Moment(instant.instant.replace(microsecond=0), other.offset_minutes))


def too_old(name: str, oldest: Moment, received: Moment, limit: Decimal, *, is_past: bool) -> str:
    """SH-02: from the oldest start of a run to the receipt, strictly more than the limit in hours."""
    if hours_between(oldest, received) <= limit:
        return ""
    verb = "received" if is_past else "expected receipt"
    return (
        f"{start(name)}: collected {_beside(oldest, received)}, {verb} {weekday_clock(received)}:"
        f" {duration_words(received.instant - oldest.instant)}; limit at most {limit} h."
    )


def already_too_old(name: str, oldest: Moment, soonest: Moment, limit: Decimal) -> str:
    """SH-02 before anybody chose a way: what is too old even if it is carried to an open dock at once."""
    if hours_between(oldest, soonest) <= limit:
        return ""
    return (
        f"{start(name)}: collected {_beside(oldest, soonest)}, earliest receipt {weekday_clock(soonest)}:"
        f" {duration_words(soonest.instant - oldest.instant)}; limit at most {limit} h."
    )


def only_by_hand(name: str, oldest: Moment, latest: Moment, limit: Decimal) -> str:
    """SH-02 before anybody chose a way: no carrier's next-day service comes in time any more, and a person
    who is at the open dock by then does.
    """
    until = weekday_clock(Moment(held_until(oldest, limit).replace(microsecond=0), latest.offset_minutes))
    return (
        f"{start(name)}, collected {_beside(oldest, latest)}, had to be with a carrier by"
        f" {weekday_clock(latest)} to be received within {limit} h: only hand-carried can it be in time, at"
        f" the open dock by {until}."
    )


def after_cutoff(name: str, handed_over: Moment, plan: DeliveryPlan, route: Route) -> str:
    """SH-03: the cut-off itself is still in time. By how much it was missed is told, so that all times are
    the laboratory's.
    """
    if not plan.missed_cutoff:
        return ""
    handed_on = handed_over.instant.astimezone(named_zone(route.origin)).date()
    in_time = Moment.shown_in(at_local(handed_on, route.service.cutoff, route.origin), route.origin)
    late = duration_words(handed_over.instant - in_time.instant)
    sooner = weekday_clock(delivery_window.plan(in_time, route).received)
    return start(
        f"{name}: shipped {late} after the {route.service.cutoff:%H:%M} cut-off of {weekday(handed_on)}"
        f" ({route.origin}); the carrier counts from {weekday(plan.day0)}, expected receipt"
        f" {weekday_clock(plan.received)}, not {sooner}."
    )


def days_off(name: str, plan: DeliveryPlan) -> str:
    """SH-04: days from hand-over to delivery on which the carrier does not work."""
    if not plan.days_off:
        return ""
    return (
        f"Between shipment and delivery of {name} the carrier does not work on"
        f" {listed([weekday(each) for each in plan.days_off])}."
    )


def saturday_for_nothing(name: str, lab: str, plan: DeliveryPlan, route: Route) -> str:
    """SH-05: money spent so that the envelope lies outside a locked door over the weekend."""
    if not is_saturday_for_nothing(plan, route):
        return ""
    return (
        f"Saturday delivery was chosen for {name}; on {weekday_clock(plan.delivered)} {lab} is closed; it"
        f" opens on {weekday_clock(plan.received)}."
    )


def unlisted_years(name: str, plan: DeliveryPlan) -> str:
    """SH-12: a year not entered is unknown, not free of holidays."""
    if not plan.unlisted_years:
        return ""
    years = listed([str(year) for year in plan.unlisted_years])
    return (
        f"The calendars used for {name} list no closed days for {years}: the expected receipt may be wrong."
    )


def is_saturday_for_nothing(plan: DeliveryPlan, route: Route) -> bool:
    """Saturday delivery was bought, and the dock is shut on the Saturday of the delivery."""
    return route.service.saturday and plan.dock_shut and plan.delivered.local_date.weekday() == _SATURDAY
