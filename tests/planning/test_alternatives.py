"""What else could be done with an envelope.

The ranking is common practice, no source; the calendars decide what is possible.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bailee.domain.moments import Moment
from bailee.domain.opening_hours.calendars import Calendar
from bailee.domain.opening_hours.delivery_window import Route, Service, plan
from bailee.planning.alternatives import Choice, alternatives
from bailee.rules import transit

EASTERN, CENTRAL = "America/New_York", "America/Chicago"
SPAN = ((time(8), time(17)),)
WEEK = dict.fromkeys(range(5), SPAN)
YEARS = frozenset({2026, 2027})
CARRIER = Calendar(EASTERN, {}, frozenset({date(2026, 11, 26)}), YEARS)
DOCK = Calendar(CENTRAL, WEEK, frozenset({date(2026, 11, 26)}), YEARS)
NEXT_DAY = Route(Service("1 day", 1), EASTERN, CARRIER, DOCK)


def ways(now: str, route: Route = NEXT_DAY, **more: object) -> list[tuple[str, str, str, bool]]:
    """How, by when, received when, and whether it will do."""
    found = alternatives(Moment.in_zone(now, EASTERN), route, **more)  # type: ignore[arg-type]
    return [(c.how, c.hand_over.text()[:16], c.plan.received.text()[:16], c.fits) for c in found]


def reasons(found: list[Choice], how: str, day: str) -> str:
    """The reasons of one way."""
    (choice,) = (c for c in found if c.how == how and c.hand_over.text().startswith(day))
    return "; ".join(choice.reasons)


def test_an_ordinary_tuesday() -> None:
    """The clerk would have to work out four dates in two zones at a quarter to five."""
    assert ways("2026-12-01T15:00")[:4] == [
        ("next-day service", "2026-12-01T17:00", "2026-12-02T10:30", True),
        ("2-day service", "2026-12-01T17:00", "2026-12-03T10:30", True),
        ("next-day service", "2026-12-02T17:00", "2026-12-03T10:30", True),
        ("2-day service", "2026-12-02T17:00", "2026-12-04T10:30", True),
    ]


def test_whoever_carries_it_arrives_when_they_say_so() -> None:
    """From Honolulu to Chicago "by hand" would be there before the telephone is down, and stand first."""
    assert not any(how == "hand-carried" for how, *_ in ways("2026-12-01T15:00"))
    honolulu = replace(NEXT_DAY, origin="Pacific/Honolulu")
    there = Moment.parse("2026-12-02T07:10:00-06:00")
    (found,) = (each for each in ways("2026-12-01T15:00", honolulu, carried=there) if "hand" in each[0])
    assert found == ("hand-carried", "2026-12-02T07:10", "2026-12-02T08:00", False)  # the dock opens at eight
    at_nine = Moment.parse("2026-12-02T09:00:00-06:00")
    others = ways("2026-12-01T15:00", carried=at_nine)
    assert ("hand-carried", "2026-12-02T09:00", "2026-12-02T09:00", True) in others
    assert others[0][0] == "next-day service"  # what costs nobody a day comes first


def test_a_friday_with_saturday_delivery_to_an_open_dock() -> None:
    """The one way that keeps the samples under the limit over a weekend would not be named."""
    open_on_saturday = replace(NEXT_DAY, lab=replace(DOCK, hours={**WEEK, 5: SPAN}))
    best = ways("2026-12-04T15:00", open_on_saturday)[0]
    assert best == ("next-day service with Saturday delivery", "2026-12-04T17:00", "2026-12-05T10:30", True)


def test_saturday_delivery_to_a_shut_dock_stands_last_and_says_why() -> None:
    """Somebody pays for a Saturday delivery that lies before a locked door."""
    found = alternatives(Moment.in_zone("2026-12-04T15:00", EASTERN), NEXT_DAY)
    assert found[-1].route.service.saturday
    assert not found[-1].fits
    assert not any(c.route.service.saturday for c in found if c.fits)
    said = reasons(found, "next-day service with Saturday delivery", "2026-12-04")
    assert "the laboratory is closed on Sat 2026-12-05" in said
    assert "expected receipt Mon 2026-12-07 08:00 (-06:00)" in said


def test_what_is_beyond_the_limit_stands_behind_what_is_within() -> None:
    """The cheapest way would be proposed, and the laboratory reject samples that are too old."""
    oldest = Moment.in_zone("2026-11-30T10:00", EASTERN)
    found = alternatives(
        Moment.in_zone("2026-12-01T15:00", EASTERN), NEXT_DAY, oldest=oldest, hold_h=Decimal(72)
    )
    assert [c.fits for c in found] == sorted((c.fits for c in found), reverse=True)
    assert "49 h 30 min after the oldest run, within the limit of 72 h" in reasons(
        found, "next-day service", "2026-12-01"
    )
    assert "73 h 30 min after the oldest run, beyond the limit of 72 h" in reasons(
        found, "next-day service", "2026-12-02"
    )
    edge = alternatives(
        Moment.in_zone("2026-12-01T15:00", EASTERN), NEXT_DAY, oldest=oldest, hold_h=Decimal("49.5")
    )
    assert [c.how for c in edge if c.fits] == ["next-day service"]
    beyond = alternatives(
        Moment.in_zone("2026-12-01T15:00", EASTERN), NEXT_DAY, oldest=oldest, hold_h=Decimal("49.4999"),
        carried=Moment.parse("2026-12-01T16:00:00-06:00"),
    )  # fmt: skip
    assert [c.how for c in beyond if c.fits] == ["hand-carried"]


def test_why_it_is_not_handed_over_today() -> None:
    """The clerk reads "tomorrow" and does not know whether to run."""
    late = alternatives(Moment.in_zone("2026-12-01T17:01", EASTERN), NEXT_DAY)
    assert "today it had to be shipped by Tue 2026-12-01 17:00 (-05:00)" in reasons(
        late, "next-day service", "2026-12-02"
    )
    sunday = alternatives(Moment.in_zone("2026-12-06T12:00", EASTERN), NEXT_DAY)
    assert "the carrier does not work today" in reasons(sunday, "next-day service", "2026-12-07")
    office = Calendar(EASTERN, WEEK, frozenset({date(2026, 12, 1)}), YEARS)
    shut = alternatives(Moment.in_zone("2026-12-01T12:00", EASTERN), NEXT_DAY, office=office)
    assert "your own office is closed today" in reasons(shut, "next-day service", "2026-12-02")
    sharp = alternatives(Moment.in_zone("2026-12-01T17:00", EASTERN), NEXT_DAY)
    assert "shipped today" in reasons(sharp, "next-day service", "2026-12-01")


def test_an_office_that_closes_before_the_cut_off_decides() -> None:
    """The clerk is told five o'clock, and the office is locked at four."""
    office = Calendar(EASTERN, dict.fromkeys(range(5), ((time(8), time(16)),)), frozenset(), YEARS)
    assert ways("2026-12-01T15:00", office=office)[0][1] == "2026-12-01T16:00"
    assert ways("2026-12-01T16:01", office=office)[0][1] == "2026-12-02T16:00"


def test_a_slower_service_that_is_received_at_the_same_time_comes_first() -> None:
    """A firm pays for a night in which the laboratory is shut anyway."""
    shut = replace(NEXT_DAY, lab=replace(DOCK, closed=frozenset(date(2026, 12, n) for n in (2, 3, 4))))
    found = alternatives(Moment.in_zone("2026-12-01T15:00", EASTERN), shut)
    today = [c for c in found if c.hand_over.text().startswith("2026-12-01") and not c.by_hand]
    assert [c.how for c in today] == ["2-day service", "next-day service"]  # both wait for Monday, 08:00
    assert today[0].plan.received == today[1].plan.received
    assert today[0].reasons[-1] == "expected receipt no later than by the faster service"
    assert (found[0].how, found[0].hand_over.text()[:10], found[0].fits) == (
        "2-day service",
        "2026-12-03",
        True,
    )
    tuesday = alternatives(Moment.in_zone("2026-12-01T15:00", EASTERN), NEXT_DAY)
    assert not any("no later than" in reason for c in tuesday for reason in c.reasons)


def test_a_laboratory_that_never_opens_has_no_alternatives() -> None:
    """A calendar entered wrongly would end in an error where the clerk needs an answer."""
    assert (
        alternatives(
            Moment.in_zone("2026-12-01T15:00", EASTERN), replace(NEXT_DAY, lab=Calendar(CENTRAL, {}))
        )
        == []
    )


ZONES = st.sampled_from([EASTERN, CENTRAL, "America/Phoenix", "Pacific/Honolulu", "Pacific/Guam"])
DAYS = st.frozensets(st.dates(date(2026, 10, 20), date(2027, 4, 10)), max_size=12)
CLOCKS = st.integers(10, 44).map(lambda halves: time(halves // 2, halves % 2 * 30))
WEEKS = st.dictionaries(
    st.integers(0, 6),
    st.tuples(CLOCKS, CLOCKS).filter(lambda span: span[0] < span[1]).map(lambda span: (span,)),
    min_size=1,
)
CALENDARS = st.builds(Calendar, ZONES, WEEKS, DAYS)
ROUTES = st.builds(
    Route,
    st.builds(Service, st.just("any"), st.integers(0, 4), st.booleans(), CLOCKS, CLOCKS),
    ZONES,
    CALENDARS,
    CALENDARS,
)
MOMENTS = st.integers(0, 150 * 24 * 60).map(
    lambda n: Moment(datetime(2026, 10, 25, tzinfo=UTC) + n * timedelta(minutes=1), 0)
)


def reads_open(calendar: Calendar, instant: datetime) -> bool:
    """As a person reads the notice on the door, at the local time of the wall clock."""
    wall = instant.astimezone(ZoneInfo(calendar.zone)).replace(tzinfo=None)
    return wall.date() not in calendar.closed and any(
        a <= wall.time() <= b for a, b in calendar.hours.get(wall.weekday(), ())
    )


@pytest.mark.slow
@given(MOMENTS, ROUTES, st.none() | CALENDARS, st.integers(0, 100), st.integers(1, 200))
def test_only_what_can_be_done_is_proposed(
    now: Moment, route: Route, office: Calendar | None, age: int, hold: int
) -> None:
    """The clerk would be sent to a shut counter, out of a locked office, or into the past.

    Oracle: wall clocks (tz database).
    """
    oldest = Moment(now.instant - timedelta(hours=age), 0)
    found = alternatives(now, route, office=office, oldest=oldest, hold_h=Decimal(hold))
    assert [c.fits for c in found if not (c.route.service.saturday and c.plan.dock_shut)] == sorted(
        (c.fits for c in found if not (c.route.service.saturday and c.plan.dock_shut)), reverse=True
    )
    for each in found:
        at = each.hand_over.instant
        assert at >= now.instant
        assert reads_open(route.lab, each.plan.received.instant)
        assert each.by_hand or each.plan == plan(each.hand_over, each.route)
        assert each.reasons
        in_time = each.plan.received.instant <= transit.held_until(oldest, Decimal(hold))
        assert each.fits is (in_time and not each.plan.dock_shut)
        if not each.by_hand:
            assert not each.plan.missed_cutoff
            assert at.astimezone(ZoneInfo(route.origin)).date() == each.plan.day0
            assert office is None or reads_open(office, at)
