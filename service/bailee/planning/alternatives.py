"""What else could be done with an envelope: other days, other services, Saturday, by hand; ranked, each with
its reasons in words.

Rules (common practice, no source):
1. Proposed is only what can be done: handed over from now on, on a day the carrier collects, by its cut-off,
   while the own office is open, if it has said when that is.
2. First what meets the hold limit and comes to an open dock; of these the earliest receipt; of equals without
   Saturday delivery first, then the slower service, which is cheaper, then the earlier hand-over.
3. By hand is proposed only where somebody said when they would be at the dock: how long the way takes is not
   known here. It comes after the carriers that will do: it costs somebody a day.
4. Saturday delivery is proposed when it would deliver on a Saturday. To a dock that is shut then it stands
   last, so that nobody buys it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Final

from bailee.domain.moments import Moment, duration_words, named_zone
from bailee.domain.opening_hours import delivery_window
from bailee.domain.opening_hours.calendars import Calendar, at_local
from bailee.domain.opening_hours.delivery_window import DeliveryPlan, Route, Service, plan
from bailee.errors import Malformed
from bailee.frozen import frozen
from bailee.rules import transit
from bailee.rules.wording import weekday, weekday_clock

_DAYS_AHEAD: Final = 14
_HAND_OVERS: Final = 3
_MOST_BY_CARRIER: Final = 6
_SATURDAY: Final = 5
_USUAL_DAYS: Final = (1, 2)


@frozen
class Choice:
    """One way to send it.

    `hand_over` is the latest time for a carrier, and for a person the time at which they are at the dock.
    """

    route: Route
    by_hand: bool
    hand_over: Moment
    plan: DeliveryPlan
    fits: bool
    reasons: tuple[str, ...]

    @property
    def how(self) -> str:
        """In words: `next-day service`, `2-day service with Saturday delivery`, `hand-carried`."""
        if self.by_hand:
            return "hand-carried"
        days = self.route.service.days
        name = "next-day service" if days == 1 else f"{days}-day service"
        return f"{name} with Saturday delivery" if self.route.service.saturday else name


def alternatives(
    now: Moment,
    route: Route,
    *,
    office: Calendar | None = None,
    oldest: Moment | None = None,
    hold_h: Decimal | None = None,
    carried: Moment | None = None,
) -> list[Choice]:
    """Ways to send an envelope that lies here now, the best first. `route` is the service asked about.

    `carried`: when a person who carries it would be at the dock, by their own word.
    `oldest`: start of the oldest run; with `hold_h` it decides which ways are in time. None of a laboratory
    that never opens.
    """
    limit = transit.held_until(oldest, hold_h) if oldest is not None and hold_h is not None else None
    found = [*_by_carrier(now, route, office, limit), *_in_person(route, limit, carried)]
    ranked = list(_kept(sorted(found, key=_rank)))
    return [
        replace(each, reasons=tuple(_reasons(each, now, office, oldest, hold_h, ranked))) for each in ranked
    ]


def _kept(ranked: list[Choice]) -> Iterator[Choice]:
    """The best of the carriers, the way by hand, and the first Saturday delivery that is none,
    as a warning.
    """
    carriers, warned = 0, False
    for each in ranked:
        if transit.is_saturday_for_nothing(each.plan, each.route):
            if not warned:
                yield each
            warned = True
        elif each.by_hand:
            yield each
        elif carriers < _MOST_BY_CARRIER:
            carriers += 1
            yield each


def _rank(choice: Choice) -> tuple[bool, bool, bool, datetime, bool, int, datetime]:
    service = choice.route.service
    for_nothing = transit.is_saturday_for_nothing(choice.plan, choice.route)
    return (
        for_nothing,
        not choice.fits,
        choice.by_hand,
        choice.plan.received.instant,
        service.saturday,
        -service.days,
        choice.hand_over.instant,
    )


def _by_carrier(
    now: Moment, route: Route, office: Calendar | None, limit: datetime | None
) -> Iterator[Choice]:
    hand_overs = list(_hand_overs(now, route, office))[:_HAND_OVERS]
    services = dict.fromkeys(days for days in (route.service.days, *_USUAL_DAYS) if days)
    for at in hand_overs:
        for days in services:
            week = replace(route, service=replace(route.service, days=days, saturday=False))
            usual = _choice(week, at, limit)
            bought = _choice(replace(week, service=replace(week.service, saturday=True)), at, limit)
            if usual:
                yield usual
            if bought and usual and _brings_on_saturday(bought.plan, usual.plan):
                yield bought


def _brings_on_saturday(bought: DeliveryPlan, usual: DeliveryPlan) -> bool:
    return bought.delivered < usual.delivered and bought.delivered.local_date.weekday() == _SATURDAY


def _hand_overs(now: Moment, route: Route, office: Calendar | None) -> Iterator[Moment]:
    """The latest hand-over of each day from now on on which there is one."""
    today = now.instant.astimezone(named_zone(route.origin)).date()
    for ahead in range(_DAYS_AHEAD):
        latest = _latest_on(today + timedelta(days=ahead), route, office)
        if latest is not None and latest >= now.instant:
            yield Moment.shown_in(latest, route.origin)


def _latest_on(this: date, route: Route, office: Calendar | None) -> datetime | None:
    if not route.collects_on(this):
        return None
    cutoff = at_local(this, route.service.cutoff, route.origin)
    if office is None:
        return cutoff
    there = office.last_open(cutoff)
    same_day = there is not None and there.astimezone(named_zone(route.origin)).date() == this
    return there if same_day else None


def _in_person(route: Route, limit: datetime | None, carried: Moment | None) -> Iterator[Choice]:
    if carried is None:
        return
    try:
        found = delivery_window.carried(carried, route.lab)
    except Malformed:
        return
    way = replace(route, service=Service("by hand", 0))
    fits = _fits(found, limit)
    yield Choice(way, by_hand=True, hand_over=found.delivered, plan=found, fits=fits, reasons=())


def _choice(route: Route, at: Moment, limit: datetime | None) -> Choice | None:
    try:
        found = plan(at, route)
    except Malformed:
        return None
    return Choice(route, by_hand=False, hand_over=at, plan=found, fits=_fits(found, limit), reasons=())


def _fits(found: DeliveryPlan, limit: datetime | None) -> bool:
    """Whether it comes to an open dock within the limit."""
    return (limit is None or found.received.instant <= limit) and not found.dock_shut


def _reasons(
    choice: Choice,
    now: Moment,
    office: Calendar | None,
    oldest: Moment | None,
    hold_h: Decimal | None,
    others: list[Choice],
) -> Iterator[str]:
    found, service = choice.plan, choice.route.service
    if choice.by_hand:
        yield (
            "no carrier and no cut-off: the person who carries it expects to be at the dock then, and both"
            " sides sign there"
        )
    else:
        yield from _day_reasons(choice, now, office)
    if transit.is_saturday_for_nothing(found, choice.route):
        yield (
            f"the laboratory is closed on {weekday(found.delivered.local_date)}: expected receipt"
            f" {weekday_clock(found.received)}"
        )
    elif found.dock_shut:
        yield (
            f"expected delivery {weekday_clock(found.delivered)}, when the laboratory is closed; expected"
            f" receipt {weekday_clock(found.received)}"
        )
    elif service.saturday and not choice.by_hand:
        yield (
            f"the laboratory is open on {weekday(found.delivered.local_date)}; Saturday delivery usually"
            " costs more"
        )
    if oldest is not None and hold_h is not None:
        old = duration_words(found.received.instant - oldest.instant)
        in_time = found.received.instant <= transit.held_until(oldest, hold_h)
        yield f"{old} after the oldest run, {'within' if in_time else 'beyond'} the limit of {hold_h} h"
    same = any(
        not each.by_hand
        and (each.hand_over, each.plan.received) == (choice.hand_over, found.received)
        and each.route.service.days < service.days
        for each in others
    )
    if same and not choice.by_hand:
        yield "expected receipt no later than by the faster service"
    if found.unlisted_years:
        years = ", ".join(map(str, found.unlisted_years))
        yield f"no closed days on record for {years}: it may be later"


def _day_reasons(choice: Choice, now: Moment, office: Calendar | None) -> Iterator[str]:
    """Why it is handed over on that day and not today."""
    route = choice.route
    today = now.instant.astimezone(named_zone(route.origin)).date()
    if choice.hand_over.local_date == today:
        yield "shipped today"
        return
    yield f"shipped {weekday(choice.hand_over.local_date)}"
    latest = _latest_on(today, route, office)
    if not route.collects_on(today):
        yield "the carrier does not work today"
    elif latest is None:
        yield "your own office is closed today"
    elif latest < now.instant:
        yield f"today it had to be shipped by {weekday_clock(Moment.shown_in(latest, route.origin))}"
