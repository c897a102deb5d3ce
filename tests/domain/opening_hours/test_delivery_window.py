"""The shipping window.

Oracles: the trade's worked table (common practice, no source) and a day-by-day reference count.
"""

import time as machine
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from bailee.domain.moments import Moment, hours_between
from bailee.domain.opening_hours.calendars import Calendar
from bailee.domain.opening_hours.delivery_window import Route, Service, latest_hand_over, plan
from bailee.domain.opening_hours.federal_holidays import observed
from bailee.errors import Malformed

EASTERN, CENTRAL = "America/New_York", "America/Chicago"
WEEK = dict.fromkeys(range(5), ((time(8), time(17)),))
YEARS = frozenset({2026, 2027, 2028})
FEDERAL = frozenset(day for year in YEARS for day in observed(year))
THANKSGIVING, JULY_3, VETERANS = date(2026, 11, 26), date(2026, 7, 3), date(2026, 11, 11)
# Carriers and laboratories of the table keep the federal days except Veterans Day; exceptions are named in
# the rows.
KEPT = FEDERAL - {VETERANS}
ONE, TWO, ONE_SATURDAY = Service("1", 1), Service("2", 2), Service("1+sat", 1, saturday=True)
MINUTE = timedelta(minutes=1)


def _route(
    service: Service, *, carrier: frozenset[date] = KEPT, lab: frozenset[date] = KEPT, saturday: bool = False
) -> Route:
    hours = {**WEEK, 5: ((time(8), time(17)),)} if saturday else WEEK
    return Route(
        service, EASTERN, Calendar(EASTERN, {}, carrier, YEARS), Calendar(CENTRAL, hours, lab, YEARS)
    )


TABLE = [
    ("2026-11-25T16:30", _route(ONE), "2026-11-27T10:30", "2026-11-27T10:30"),
    (
        "2026-11-25T16:30",
        _route(ONE, lab=KEPT | {date(2026, 11, 27)}),
        "2026-11-27T10:30",
        "2026-11-30T08:00",
    ),
    ("2026-11-25T17:01", _route(ONE), "2026-11-30T10:30", "2026-11-30T10:30"),
    ("2026-11-24T17:00", _route(ONE), "2026-11-25T10:30", "2026-11-25T10:30"),
    ("2026-12-04T15:00", _route(ONE), "2026-12-07T10:30", "2026-12-07T10:30"),
    ("2026-12-04T15:00", _route(ONE_SATURDAY, saturday=True), "2026-12-05T10:30", "2026-12-05T10:30"),
    ("2026-12-06T12:00", _route(TWO), "2026-12-09T10:30", "2026-12-09T10:30"),
    ("2026-12-24T15:00", _route(ONE), "2026-12-28T10:30", "2026-12-28T10:30"),
    ("2026-07-02T18:30", _route(ONE), "2026-07-07T10:30", "2026-07-07T10:30"),
    ("2026-07-02T15:00", _route(ONE, carrier=KEPT - {JULY_3}), "2026-07-03T10:30", "2026-07-06T08:00"),
    ("2026-11-10T15:00", _route(ONE), "2026-11-11T10:30", "2026-11-11T10:30"),
]


@pytest.mark.parametrize(("handed_over", "route", "delivered", "received"), TABLE)
def test_worked_table(handed_over, route, delivered, received):
    """Samples would ride to a shut dock over a weekend or a holiday (common practice, no source; days: 5
    U.S.C. 6103).
    """
    found = plan(Moment.in_zone(handed_over, EASTERN), route)
    assert (found.delivered, found.received) == (
        Moment.in_zone(delivered, CENTRAL),
        Moment.in_zone(received, CENTRAL),
    )
    assert found.delivered.local.strftime("%Y-%m-%dT%H:%M") == delivered
    assert found.received.local.strftime("%Y-%m-%dT%H:%M") == received
    assert found.dock_shut is (delivered != received)


def test_three_calendars_are_three():
    """A federal day would be taken for a day on which the carrier and the laboratory rest too (the list binds
    offices).
    """
    handed_over = Moment.in_zone("2026-11-10T15:00", EASTERN)
    received = {
        name: plan(handed_over, route).received.text()
        for name, route in {
            "both work": _route(ONE),
            "carrier rests": _route(ONE, carrier=FEDERAL),
            "lab rests": _route(ONE, lab=FEDERAL),
        }.items()
    }
    assert received == {
        "both work": "2026-11-11T10:30:00-06:00",
        "carrier rests": "2026-11-12T10:30:00-06:00",
        "lab rests": "2026-11-12T08:00:00-06:00",
    }


def test_the_first_friday_warning():
    """The holding time of a Friday sample would be an hour short: 72.5 h, not 71.5 (worked table, tz
    database).
    """
    received = plan(Moment.in_zone("2026-12-04T15:00", EASTERN), _route(ONE)).received
    assert hours_between(Moment.in_zone("2026-12-04T11:00", EASTERN), received) == 72.5


@pytest.mark.parametrize(
    ("handed_over", "day0", "missed"),
    [
        ("2026-11-24T17:00", date(2026, 11, 24), False),
        ("2026-11-24T17:00:00.001", date(2026, 11, 25), True),
        ("2026-11-25T17:01", date(2026, 11, 27), True),
        ("2026-12-05T09:00", date(2026, 12, 7), False),  # Saturday: nothing was missed, nobody collects
        ("2026-12-06T23:59", date(2026, 12, 7), False),
    ],
)
def test_day_zero(handed_over, day0, missed):
    """A minute's delay at the counter would cost a day that nobody announced (common practice, no source)."""
    for service in (ONE, ONE_SATURDAY):
        found = plan(Moment.in_zone(handed_over, EASTERN), _route(service))
        assert (found.day0, found.missed_cutoff) == (day0, missed)


def test_cut_off_is_read_on_the_clock_of_the_origin():
    """A phone that still shows another zone would gain or lose an hour at the counter."""
    western = Moment.parse("2026-11-24T14:30:00-08:00")  # 17:30 Eastern
    assert plan(western, _route(ONE)).missed_cutoff
    assert not plan(western, replace(_route(ONE), origin="America/Los_Angeles")).missed_cutoff


def test_saturday_delivery_to_a_shut_dock_waits_till_monday():
    """Money would be spent on a Saturday delivery that nobody takes (common practice, no source)."""
    found = plan(Moment.in_zone("2026-12-04T15:00", EASTERN), _route(ONE_SATURDAY))
    assert found.delivered.text() == "2026-12-05T10:30:00-06:00"
    assert found.received.text() == "2026-12-07T08:00:00-06:00"
    assert found.dock_shut


def test_saturday_and_sunday_of_the_carrier():
    """A closed Saturday would still count as a delivery day, or a seven-day carrier rest on Sunday."""
    handed_over = Moment.in_zone("2026-12-04T15:00", EASTERN)
    route = _route(ONE_SATURDAY, carrier=KEPT | {date(2026, 12, 5)}, saturday=True)
    assert plan(handed_over, route).delivered.local_date == date(2026, 12, 7)
    every_day = replace(route.carrier, hours=dict.fromkeys(range(7), ((time(0), time(0)),)))
    assert plan(handed_over, replace(route, carrier=every_day)).delivered.local_date == date(2026, 12, 6)
    weekend_hours_empty = replace(route.carrier, hours={**WEEK, 6: ()})
    assert plan(handed_over, replace(route, carrier=weekend_hours_empty)).delivered.local_date == date(
        2026, 12, 7
    )


@pytest.mark.parametrize(
    ("handed_over", "received"),
    [
        ("2026-12-04T09:00", "2026-12-04T10:30"),
        ("2026-12-04T14:00", "2026-12-04T14:00"),
        ("2026-12-04T17:00", "2026-12-04T17:00"),
        ("2026-12-04T17:01", "2026-12-07T10:30"),
    ],
)
def test_delivery_by_hand(handed_over, received):
    """An envelope carried to the lab at two would be expected back at half past ten (common practice, no
    source).
    """
    route = replace(_route(Service("hand", 0)), origin=CENTRAL)
    assert plan(Moment.in_zone(handed_over, CENTRAL), route).received == Moment.in_zone(received, CENTRAL)


def test_delivery_at_closing_time_is_received():
    """A delivery at 17:00 sharp would be put off to the next morning, or one at 17:01 taken (common practice,
    no source).
    """
    handed_over = Moment.in_zone("2026-12-01T12:00", EASTERN)
    sharp, late = (plan(handed_over, _route(Service("pm", 1, delivery=time(17, n)))) for n in (0, 1))
    assert (sharp.received.text(), sharp.dock_shut) == ("2026-12-02T17:00:00-06:00", False)
    assert (late.received.text(), late.dock_shut) == ("2026-12-03T08:00:00-06:00", True)


def test_what_the_plan_tells_beside_the_times():
    """The person would see a late receipt and not the holiday, or a year without holidays,
    that explains it.
    """
    found = plan(Moment.in_zone("2026-11-25T17:01", EASTERN), _route(ONE))
    assert found.days_off == (THANKSGIVING, date(2026, 11, 28), date(2026, 11, 29))
    assert found.unlisted_years == ()
    bare = _route(TWO)
    bare = replace(
        bare,
        carrier=replace(bare.carrier, known_years=frozenset()),
        lab=replace(bare.lab, known_years=frozenset({2026})),
    )
    assert plan(Moment.in_zone("2026-12-30T12:00", EASTERN), bare).unlisted_years == (2026, 2027)
    assert plan(
        Moment.in_zone("2026-12-01T12:00", EASTERN), replace(bare, lab=replace(bare.lab, known_years=YEARS))
    ).unlisted_years == (2026,)


def test_new_year_2028_is_kept_on_the_last_day_of_2027():
    """A Thursday envelope would be promised for Friday 31 December 2027, a shut day (5 U.S.C. 6103(b))."""
    assert (
        plan(Moment.in_zone("2027-12-30T12:00", EASTERN), _route(ONE)).received.text()
        == "2028-01-03T10:30:00-06:00"
    )


@pytest.mark.parametrize("days", [-1, 31])
def test_services_that_are_none(days):
    """A mistyped number of days would plan an envelope into the past or the next season."""
    with pytest.raises(Malformed) as refused:
        Service("x", days)
    assert refused.value.code == "bad-service"


def test_a_carrier_or_a_lab_that_never_works():
    """A calendar with every day closed would send the search on for ever."""
    handed_over = Moment.in_zone("2026-12-04T15:00", EASTERN)
    closed = frozenset(date(2026, 12, 1) + timedelta(days=n) for n in range(410))
    one_day = closed - {date(2026, 12, 4)}
    shut = Route(ONE, EASTERN, _route(ONE).carrier, Calendar(CENTRAL, {}))
    for route in (_route(ONE, carrier=closed), _route(ONE, carrier=one_day), shut):
        with pytest.raises(Malformed) as refused:
            plan(handed_over, route)
        assert refused.value.code == "never-open"
    limit = Moment.in_zone("2026-12-08T12:00", CENTRAL).instant
    assert latest_hand_over(shut, not_after_receipt=limit) is None
    before = frozenset(date(2025, 10, 1) + timedelta(days=n) for n in range(500))
    assert latest_hand_over(_route(ONE, carrier=before), not_after_receipt=limit) is None


@pytest.mark.parametrize(
    ("limit", "latest"),
    # Derived from the worked table, read backwards.
    [
        ("2026-11-27T10:30", "2026-11-25T17:00"),
        ("2026-11-27T10:29", "2026-11-24T17:00"),
        ("2026-11-26T23:00", "2026-11-24T17:00"),
        ("2026-11-30T10:29", "2026-11-25T17:00"),
        ("2026-11-30T10:30", "2026-11-27T17:00"),
    ],
)
def test_latest_hand_over(limit, latest):
    """The clerk would be told an hour that is too late, or be sent running for nothing."""
    found = latest_hand_over(_route(ONE), not_after_receipt=Moment.in_zone(limit, CENTRAL).instant)
    assert found is not None
    assert found.local.strftime("%Y-%m-%dT%H:%M") == latest


def test_latest_hand_over_that_is_already_past():
    """The clerk would be told to ship yesterday."""
    limit = Moment.in_zone("2026-11-27T10:30", CENTRAL).instant
    cutoff = Moment.in_zone("2026-11-25T17:00", EASTERN).instant
    assert latest_hand_over(_route(ONE), not_after_receipt=limit, not_before=cutoff) is not None
    assert latest_hand_over(_route(ONE), not_after_receipt=limit, not_before=cutoff + MINUTE) is None


# Two clock changes lie in the window; the zones are far apart on purpose.
_ZONES = st.sampled_from([EASTERN, CENTRAL, "America/Phoenix", "Pacific/Honolulu", "Pacific/Guam"])
_DAYS = st.dates(date(2026, 10, 20), date(2027, 4, 10))
_CLOCKS = st.integers(10, 44).map(lambda halves: time(halves // 2, halves % 2 * 30))
_WEEKS = st.dictionaries(
    st.integers(0, 6),
    st.tuples(_CLOCKS, _CLOCKS).filter(lambda span: span[0] < span[1]).map(lambda span: (span,)),
    min_size=1,
)
SERVICES = st.builds(Service, st.just("any"), st.integers(0, 4), st.booleans(), _CLOCKS, _CLOCKS)
ROUTES = st.builds(
    Route,
    SERVICES,
    _ZONES,
    st.builds(Calendar, st.just(EASTERN), st.one_of(st.just({}), _WEEKS), st.frozensets(_DAYS, max_size=15)),
    st.builds(Calendar, _ZONES, _WEEKS, st.frozensets(_DAYS, max_size=15)),
)
MOMENTS = st.integers(0, 150 * 24 * 60).map(
    lambda n: Moment(datetime(2026, 10, 25, tzinfo=UTC) + n * MINUTE, 0)
)


def _reads_open(calendar: Calendar, instant: datetime) -> bool:
    wall = instant.astimezone(ZoneInfo(calendar.zone)).replace(tzinfo=None)
    return wall.date() not in calendar.closed and any(
        a <= wall.time() <= b for a, b in calendar.hours.get(wall.weekday(), ())
    )


def _counted(handed_over: Moment, route: Route) -> tuple[date, datetime]:
    """Count day by day as a person does with a wall calendar: the reference definition of day 0 and of
    delivery.
    """
    week = [day for day, spans in route.carrier.hours.items() if spans] or [0, 1, 2, 3, 4]

    def collects(day: date) -> bool:
        return day.weekday() in week and day not in route.carrier.closed

    def delivers(day: date) -> bool:
        return collects(day) or (
            route.service.saturday and day.strftime("%a") == "Sat" and day not in route.carrier.closed
        )

    wall = handed_over.instant.astimezone(ZoneInfo(route.origin)).replace(tzinfo=None)
    day = wall.date()
    if wall.time() > route.service.cutoff:
        day += timedelta(days=1)
    while not collects(day):
        day += timedelta(days=1)
    day0, left = day, route.service.days
    while left:
        day += timedelta(days=1)
        left -= delivers(day)
    at_lab = (
        datetime.combine(day, route.service.delivery).replace(tzinfo=ZoneInfo(route.lab.zone)).astimezone(UTC)
    )
    return day0, max(at_lab, handed_over.instant)


@pytest.mark.slow
@given(MOMENTS, ROUTES)
def test_plan_is_the_day_by_day_count(handed_over, route):
    """The planner would disagree with a finger on the wall calendar.

    Oracle: the reference count above, in wall time.
    """
    found = plan(handed_over, route)
    assert (found.day0, found.delivered.instant) == _counted(handed_over, route)
    assert found.received >= found.delivered
    assert _reads_open(route.lab, found.received.instant)
    assert found.dock_shut is not _reads_open(route.lab, found.delivered.instant)


@pytest.mark.slow
@given(MOMENTS, st.integers(1, 10_000), ROUTES)
def test_a_later_hand_over_is_never_received_earlier(handed_over, minutes, route):
    """Waiting would look like the faster way."""
    later = Moment(handed_over.instant + minutes * MINUTE, 0)
    assert plan(later, route).received >= plan(handed_over, route).received


@pytest.mark.slow
@given(MOMENTS, ROUTES, _DAYS, st.booleans())
def test_one_more_closed_day_is_never_an_earlier_receipt(handed_over, route, day, at_the_lab):
    """Entering a holiday would make a late envelope look in time."""
    which = "lab" if at_the_lab else "carrier"
    calendar = getattr(route, which)
    fewer_days = replace(route, **{which: replace(calendar, closed=calendar.closed | {day})})
    assert plan(handed_over, fewer_days).received >= plan(handed_over, route).received


@pytest.mark.slow
@given(MOMENTS, ROUTES)
@example(Moment.parse("2027-03-15T10:30:00-05:00"), _route(ONE))
@example(Moment.parse("2026-11-02T10:30:00-06:00"), _route(Service("hand", 0)))
def test_the_latest_hand_over_is_the_latest(limit, route):
    """A minute more at the desk would cost the weekend, or the minute told would already be too late."""
    latest = latest_hand_over(route, not_after_receipt=limit.instant)
    assert latest is not None  # every laboratory and carrier drawn here works within a month
    assert plan(latest, route).received <= limit
    assert _reads_open(route.lab, plan(latest, route).received.instant)
    for later in (timedelta(milliseconds=1), MINUTE, timedelta(days=1)):
        assert plan(Moment(latest.instant + later, 0), route).received > limit


def test_the_zone_of_the_machine_does_not_matter(monkeypatch):
    """A server moved to another region would plan other days."""
    try:
        for zone in ("UTC", "Asia/Kathmandu", "America/Los_Angeles"):
            monkeypatch.setenv("TZ", zone)
            machine.tzset()
            handed_over, route, delivered, received = TABLE[1]
            found = plan(Moment.in_zone(handed_over, EASTERN), route)
            assert (found.delivered, found.received) == (
                Moment.in_zone(delivered, CENTRAL),
                Moment.in_zone(received, CENTRAL),
            )
    finally:
        monkeypatch.undo()
        machine.tzset()
