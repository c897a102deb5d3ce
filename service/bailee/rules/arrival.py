"""What a shipping plan says of itself, in sentences: shared by the rules on envelopes and by the planner, which has none yet.

Each function returns an empty text when there is nothing to say.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Final

from bailee.domain import shipping
from bailee.domain.calendars import at_local
from bailee.domain.moments import Moment, duration_words, hours_between, named_zone
from bailee.domain.shipping import Plan, Route
from bailee.rules.wording import clock, day, listed, start

_SATURDAY: Final = 5


def dock_shut(name: str, lab: str, handed_over: Moment, plan: Plan, route: Route) -> str:
    """SH-01: the delivery, that the dock is shut then, and the next opening. A Saturday bought for nothing is SH-05."""
    if not plan.dock_shut or is_saturday_for_nothing(plan, route):
        return ""
    return (
        f"Handed over on {clock(handed_over)}, {name} is delivered on {clock(plan.delivered)}, when {lab} is "
        f"shut; it opens on {clock(plan.received)}."
    )


def too_old(name: str, oldest: Moment, received: Moment, limit: Decimal, *, is_past: bool) -> str:
    """SH-02: from the oldest start of a run to the receipt, strictly more than the limit in hours."""
    if hours_between(oldest, received) <= limit:
        return ""
    verb = "was received" if is_past else "is expected to be received"
    return (
        f"Collected on {clock(oldest)}, {name} {verb} on {clock(received)}: "
        f"{duration_words(received.instant - oldest.instant)}, and the limit set is {limit} h."
    )


def already_too_old(name: str, oldest: Moment, soonest: Moment, limit: Decimal) -> str:
    """SH-02 before anybody chose a way: what is too old even if it is carried to an open dock at once."""
    if hours_between(oldest, soonest) <= limit:
        return ""
    return (
        f"Collected on {clock(oldest)}, {name} can be received on {clock(soonest)} at the soonest: "
        f"{duration_words(soonest.instant - oldest.instant)}, and the limit set is {limit} h."
    )


def only_by_hand(name: str, oldest: Moment, latest: Moment, limit: Decimal) -> str:
    """SH-02 before anybody chose a way: no carrier's next-day service comes in time any more, and a person who drives does."""
    return (
        f"Collected on {clock(oldest)}, {name} had to be with a carrier by {clock(latest)} to be received within the {limit} h set: only "
        "carried by hand it comes in time."
    )


def after_cutoff(name: str, handed_over: Moment, plan: Plan, route: Route) -> str:
    """SH-03: the cut-off itself is still in time."""
    if not plan.missed_cutoff:
        return ""
    handed_on = handed_over.instant.astimezone(named_zone(route.origin)).date()
    in_time = Moment.shown_in(at_local(handed_on, route.service.cutoff, route.origin), route.origin)
    return start(
        f"{name} is handed over on {clock(handed_over)}, after the cut-off at {route.service.cutoff:%H:%M}: the "
        f"carrier starts on {day(plan.day0)} and it is received on {clock(plan.received)}; in time it would be on "
        f"{clock(shipping.plan(in_time, route).received)}."
    )


def days_off(name: str, plan: Plan) -> str:
    """SH-04: days from hand-over to delivery on which the carrier does not work."""
    if not plan.days_off:
        return ""
    return f"Between hand-over and delivery of {name} the carrier does not work on {listed([day(each) for each in plan.days_off])}."


def saturday_for_nothing(name: str, lab: str, plan: Plan, route: Route) -> str:
    """SH-05: money spent so that the envelope lies outside a locked door over the weekend."""
    if not is_saturday_for_nothing(plan, route):
        return ""
    return (
        f"Saturday delivery was chosen for {name}, and on {clock(plan.delivered)} {lab} is shut; it opens on "
        f"{clock(plan.received)}."
    )


def unlisted_years(name: str, plan: Plan) -> str:
    """SH-12: a year not entered is unknown, not free of holidays."""
    if not plan.unlisted_years:
        return ""
    years = listed([str(year) for year in plan.unlisted_years])
    return (
        f"The calendars used for {name} name no closed days for {years}: the expected receipt may be wrong."
    )


def is_saturday_for_nothing(plan: Plan, route: Route) -> bool:
    """Saturday delivery was bought, and the dock is shut on the Saturday of the delivery."""
    return route.service.saturday and plan.dock_shut and plan.delivered.local_date.weekday() == _SATURDAY
