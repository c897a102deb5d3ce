"""When an envelope handed to a carrier reaches the laboratory's open dock, and the latest hand-over that
still does.

Rules (common practice, no source):
1. Handed over up to and including the cut-off, origin time, on a carrier working day: that day is day 0.
   Otherwise day 0 is the carrier's next working day.
2. The carrier works Monday to Friday, or on the weekdays its calendar gives hours for, except its closed
   days.
3. Delivery is so many carrier working days after day 0, at the service's delivery time on the laboratory's
   clocks. A service with Saturday delivery also counts and delivers on Saturdays; it does not collect on
   them.
4. A service of 0 days is a delivery by hand on day 0, at its delivery time or at once if that is past.
5. Receipt is the delivery if the dock is open, otherwise the laboratory's next opening.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, time, timedelta

from bailee.domain.moments import Moment, named_zone
from bailee.domain.opening_hours.calendars import SEARCH_DAYS, Calendar, at_local
from bailee.errors import Malformed
from bailee.frozen import frozen

_DAY = timedelta(days=1)
_WORKING_WEEK = frozenset(range(5))
_SATURDAY = 5
_MOST_DAYS = 30


@frozen
class Service:
    """A carrier's promise: working days in transit, Saturday delivery or not, cut-off (origin), delivery time
    (lab).

    Raises `Malformed` unless the days lie between 0 and 30.
    """

    code: str
    days: int
    saturday: bool = False
    cutoff: time = time(17)
    delivery: time = time(10, 30)

    def __post_init__(self) -> None:
        if not 0 <= self.days <= _MOST_DAYS:
            raise Malformed(
                f"Give the days in transit as a number between 0 and {_MOST_DAYS}.",
                code="bad-service",
                service=self.code,
                days=self.days,
            )


@frozen
class Route:
    """A service between the origin (IANA zone of the hand-over) and a laboratory, with both calendars.

    The carrier's calendar gives days only: weekdays with hours are its working week, none at all is Monday to
    Friday.
    """

    service: Service
    origin: str
    carrier: Calendar
    lab: Calendar

    def collects_on(self, day: date) -> bool:
        """Whether the carrier takes envelopes on this day."""
        worked = frozenset(weekday for weekday, spans in self.carrier.hours.items() if spans)
        return day.weekday() in (worked or _WORKING_WEEK) and day not in self.carrier.closed

    def delivers_on(self, day: date) -> bool:
        """Whether this day counts in transit and can be the day of delivery."""
        saturday = self.service.saturday and day.weekday() == _SATURDAY and day not in self.carrier.closed
        return saturday or self.collects_on(day)


@frozen
class DeliveryPlan:
    """What to expect of one hand-over; days are the origin's (day 0) and the laboratory's (delivery)."""

    day0: date
    delivered: Moment
    received: Moment
    missed_cutoff: bool
    """Handed over after the cut-off of a day on which the carrier collects (SH-03)."""
    days_off: tuple[date, ...]
    """Days from hand-over to delivery on which the carrier does not work (SH-04)."""
    unlisted_years: tuple[int, ...]
    """Years touched for which the carrier's or the laboratory's closed days were never entered (SH-12)."""

    @property
    def dock_shut(self) -> bool:
        """Whether the delivery waits for the laboratory to open (SH-01, SH-05)."""
        return self.received > self.delivered


def plan(handed_over: Moment, route: Route) -> DeliveryPlan:
    """Return when an envelope handed over at this moment is delivered and received.

    Raises `Malformed`, code `never-open`, if the carrier or the laboratory shows no working day within 400
    days.
    """
    handed_on = handed_over.instant.astimezone(named_zone(route.origin)).date()
    missed_cutoff = route.collects_on(handed_on) and handed_over.instant > _cutoff(handed_on, route)
    day0 = _working_day(handed_on + _DAY if missed_cutoff else handed_on, route)
    delivery_day = _delivery_day(day0, route)
    delivered = max(handed_over.instant, _delivery(delivery_day, route))
    received = route.lab.next_open(delivered)
    span = [handed_on + n * _DAY for n in range((delivery_day - handed_on).days + 1)]
    years = {day.year for day in span if not route.carrier.knows(day)}
    years |= {
        day.year for day in map(route.lab.local_date, (delivered, received)) if not route.lab.knows(day)
    }
    return DeliveryPlan(
        day0=day0,
        delivered=Moment.shown_in(delivered, route.lab.zone),
        received=Moment.shown_in(received, route.lab.zone),
        missed_cutoff=missed_cutoff,
        days_off=tuple(day for day in span if not route.delivers_on(day)),
        unlisted_years=tuple(sorted(years)),
    )


def carried(expected: Moment, lab: Calendar) -> DeliveryPlan:
    """The same for what a person carries, who expects to be there at that moment: no carrier, no cut-off.

    Raises `Malformed`, code `never-open`, as `plan` does.
    """
    received = lab.next_open(expected.instant)
    days = [lab.local_date(each) for each in (expected.instant, received)]
    return DeliveryPlan(
        day0=days[0],
        delivered=Moment.shown_in(expected.instant, lab.zone),
        received=Moment.shown_in(received, lab.zone),
        missed_cutoff=False,
        days_off=(),
        unlisted_years=tuple(sorted({day.year for day in days if not lab.knows(day)})),
    )


def latest_hand_over(
    route: Route,
    *,
    not_after_receipt: datetime,
    not_before: datetime | None = None,
) -> Moment | None:
    """Return the latest hand-over, in origin time, whose receipt at the open dock is not after the limit.

    None if there is none in the 400 days before the limit, or none from `not_before` on.
    """
    dock = route.lab.last_open(not_after_receipt)
    if dock is None:
        return None
    # The delivery is received by the limit exactly if it is there when the dock is last open before the
    # limit.
    for day0 in _days(route.lab.local_date(dock), -1):
        if route.collects_on(day0) and _delivery(_delivery_day(day0, route), route) <= dock:
            latest = min(_cutoff(day0, route), dock)
            if not_before is not None and latest < not_before:
                return None
            return Moment.shown_in(latest, route.origin)
    return None


def _cutoff(day: date, route: Route) -> datetime:
    return at_local(day, route.service.cutoff, route.origin)


def _delivery(day: date, route: Route) -> datetime:
    return at_local(day, route.service.delivery, route.lab.zone)


def _delivery_day(day0: date, route: Route) -> date:
    days = (day for day in _days(day0 + _DAY, 1) if route.delivers_on(day))
    day = day0
    for _ in range(route.service.days):
        day = _found(next(days, None), day0)
    return day


def _working_day(first: date, route: Route) -> date:
    return _found(next((day for day in _days(first, 1) if route.collects_on(day)), None), first)


def _found(day: date | None, after: date) -> date:
    if day is None:
        raise Malformed(
            f"Check the carrier's calendar: it shows too few working days in the {SEARCH_DAYS} days after"
            f" {after}.",
            code="never-open",
            after=after.isoformat(),
        )
    return day


def _days(first: date, step: int) -> Iterator[date]:
    return (first + step * n * _DAY for n in range(SEARCH_DAYS))
