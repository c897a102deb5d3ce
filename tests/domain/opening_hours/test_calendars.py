"""Opening hours.

Oracles: wall clocks read minute by minute through zoneinfo, RFC 5545 3.3.5, 5 U.S.C. 6103.
"""

import time as machine
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bailee.domain.moments import Moment
from bailee.domain.opening_hours.calendars import Calendar, at_local
from bailee.errors import NOT_KNOWN, BadMoment, Malformed

CHICAGO, NEW_YORK = "America/Chicago", "America/New_York"
WORKDAY = ((time(8), time(17)),)
LAB = Calendar(CHICAGO, dict.fromkeys(range(5), WORKDAY), frozenset({date(2026, 11, 26)}), frozenset({2026}))
MINUTE = timedelta(minutes=1)
DATA = {
    "zone": CHICAGO,
    "hours": {"mon": ["08:00-12:00", "13:00-17:00"], "sat": ["00:00-24:00"]},
    "closed": ["2026-11-26"],
    "years": [2026, 2027],
}

# Hours outside 01:00 to 04:00, so that a wall clock shows each of them once: the oracle is then plain
# reading.
_HALF_HOURS = st.lists(st.integers(9, 46), min_size=2, max_size=4, unique=True).filter(
    lambda marks: len(marks) % 2 == 0
)
_SPANS = _HALF_HOURS.map(
    lambda marks: tuple(
        (time(a // 2, a % 2 * 30), time(b // 2, b % 2 * 30))
        for a, b in zip(*[iter(sorted(marks))] * 2, strict=True)
    ),
)
_DAYS = st.dates(date(2026, 10, 20), date(2026, 12, 31))
CALENDARS = st.builds(
    Calendar,
    st.sampled_from([CHICAGO, NEW_YORK, "America/Phoenix", "Pacific/Honolulu", "Australia/Lord_Howe"]),
    st.dictionaries(st.integers(0, 6), _SPANS, min_size=1),
    st.frozensets(_DAYS, max_size=12),
    st.just(frozenset({2026})),
)
INSTANTS = st.integers(0, 60 * 24 * 60).map(lambda n: datetime(2026, 10, 25, tzinfo=UTC) + n * MINUTE)


def _at(local: str, zone: str = CHICAGO) -> datetime:
    return Moment.in_zone(local, zone).instant


def _reads_open(calendar: Calendar, instant: datetime) -> bool:
    """Read the wall clock and the sheet on the door: the reference definition."""
    wall = instant.astimezone(ZoneInfo(calendar.zone)).replace(tzinfo=None)
    spans = calendar.hours.get(wall.weekday(), ())
    return wall.date() not in calendar.closed and any(
        opens <= wall.time() <= closes for opens, closes in spans
    )


@pytest.mark.parametrize(
    ("local", "is_open"),
    # Common practice, no source: the closing time still counts, the minute after does not.
    [
        ("2026-11-25T07:59:59.999", False),
        ("2026-11-25T08:00", True),
        ("2026-11-25T17:00", True),
        ("2026-11-25T17:00:00.001", False),
        ("2026-11-26T10:30", False),
        ("2026-11-27T10:30", True),
        ("2026-11-28T10:30", False),
        ("2026-11-29T10:30", False),
    ],
)
def test_is_open(local, is_open):
    """A parcel would be expected at a shut dock, or an open one be called shut."""
    assert LAB.is_open(_at(local)) is is_open


@pytest.mark.parametrize(
    ("local", "opens"),
    [
        ("2026-11-25T10:30", "2026-11-25T10:30"),
        ("2026-11-25T06:00", "2026-11-25T08:00"),
        ("2026-11-25T17:01", "2026-11-27T08:00"),  # over Thanksgiving (5 U.S.C. 6103)
        ("2026-11-27T18:00", "2026-11-30T08:00"),
        ("2026-10-30T18:00", "2026-11-02T08:00"),  # over the end of summer time (15 U.S.C. 260a)
    ],
)
def test_next_open(local, opens):
    """The person would be told the wrong morning. Read off a printed calendar."""
    assert LAB.next_open(_at(local)) == _at(opens)


@pytest.mark.slow
@given(CALENDARS, INSTANTS)
def test_open_as_the_wall_clock_reads(calendar, instant):
    """A dock would be open on the screen and shut at the door, for one hour twice a year.

    Oracle: wall-clock reading.
    """
    assert calendar.is_open(instant) is _reads_open(calendar, instant)


@pytest.mark.slow
@given(CALENDARS, INSTANTS)
def test_next_and_last_open_are_the_nearest(calendar, instant):
    """A later opening than the first would be promised, or an earlier one than the last.

    Oracle: half-hour reading.

    All hours begin and end on half hours, so between two openings every half hour must read shut.
    """
    opens, closed = calendar.next_open(instant), calendar.last_open(instant)
    assert opens >= instant
    assert _reads_open(calendar, opens)
    assert not any(
        _reads_open(calendar, instant + n * MINUTE * 30)
        for n in range((opens - instant) // MINUTE // 30)
        if instant + n * MINUTE * 30 < opens
    )
    if opens > instant:
        assert not _reads_open(calendar, opens - MINUTE)
    if closed is None:
        assert not any(_reads_open(calendar, instant - n * MINUTE * 30) for n in range(100))
        return
    assert closed <= instant
    assert _reads_open(calendar, closed)
    assert (closed == instant) is calendar.is_open(instant)
    assert not any(
        _reads_open(calendar, instant - n * MINUTE * 30) for n in range((instant - closed) // MINUTE // 30)
    )
    if closed < instant:
        assert not _reads_open(calendar, closed + MINUTE)


@pytest.mark.slow
@given(CALENDARS, INSTANTS, st.integers(0, 5000))
def test_open_minutes_count_the_wall_clock(calendar, start, length):
    """A lab would be chased before its working hours are over. Oracle: each minute read on the wall clock."""
    end = start + length * MINUTE
    between = [start + n * MINUTE + timedelta(seconds=30) for n in range(length)]
    assert calendar.open_minutes(start, end) == sum(_reads_open(calendar, instant) for instant in between)
    assert calendar.open_minutes(end, start) == (0 if length else calendar.open_minutes(start, end))


def test_open_minutes_over_a_weekend():
    """The chase list would call a Friday afternoon parcel late on Saturday (arithmetic: 90 + 150 minutes)."""
    assert LAB.open_minutes(_at("2026-12-04T15:30"), _at("2026-12-07T10:30")) == 240


def test_a_dock_open_round_the_clock():
    """A night shift's dock would shut for the minute of midnight (ISO 8601 lets a day end at 24:00)."""
    always = Calendar.from_data(
        {"zone": CHICAGO, "hours": {d: ["00:00-24:00"] for d in ("sat", "sun")}, "closed": [], "years": []}
    )
    assert always.is_open(_at("2026-12-05T00:00"))
    assert always.is_open(_at("2026-12-06T00:00"))
    assert always.is_open(_at("2026-12-07T00:00"))
    assert not always.is_open(_at("2026-12-07T00:01"))
    assert always.open_minutes(_at("2026-12-04T00:00"), _at("2026-12-11T00:00")) == 2 * 24 * 60
    # 1 November 2026 has 25 hours (15 U.S.C. 260a).
    assert always.open_minutes(_at("2026-10-31T00:00"), _at("2026-11-02T00:00")) == (24 + 25) * 60
    assert Calendar.from_data(always.to_data()) == always


def test_hours_that_a_clock_change_touches():
    """Night hours in the two odd nights would raise or go backward (RFC 5545 3.3.5: offset before the gap,
    first of two).
    """
    assert at_local(date(2027, 3, 14), time(2, 30), NEW_YORK) == datetime(2027, 3, 14, 7, 30, tzinfo=UTC)
    assert at_local(date(2026, 11, 1), time(1, 30), NEW_YORK) == datetime(2026, 11, 1, 5, 30, tzinfo=UTC)
    night = Calendar(NEW_YORK, {6: ((time(2, 30), time(3, 10)),), 0: ((time(8), time(9)),)})
    assert night.next_open(_at("2027-03-14T00:00", NEW_YORK)) == _at("2027-03-15T08:00", NEW_YORK)
    assert night.open_minutes(_at("2027-03-14T00:00", NEW_YORK), _at("2027-03-14T12:00", NEW_YORK)) == 0


def test_a_calendar_that_never_opens():
    """A calendar saved without hours would send the search on for ever."""
    shut = Calendar(CHICAGO, {})
    with pytest.raises(Malformed) as refused:
        shut.next_open(_at("2026-11-25T10:30"))
    assert refused.value.code == "never-open"
    assert shut.last_open(_at("2026-11-25T10:30")) is None
    assert not shut.is_open(_at("2026-11-25T10:30"))


def test_the_search_ends_after_400_days():
    """An opening just inside the bound would be missed, or the search run past it (the bound is ours)."""
    today = date(2026, 11, 23)
    for away, found in [(400, True), (401, False)]:
        nearer = frozenset(today + timedelta(days=n) for n in range(1 - away, away))
        calendar = Calendar(CHICAGO, dict.fromkeys(range(7), WORKDAY), nearer)
        noon = _at("2026-11-23T12:00")
        expected = datetime.combine(today - timedelta(days=away), time(17), ZoneInfo(CHICAGO))
        assert calendar.last_open(noon) == (expected if found else None)
        if found:
            expected = datetime.combine(today + timedelta(days=away), time(8), ZoneInfo(CHICAGO))
            assert calendar.next_open(noon) == expected
            continue
        with pytest.raises(Malformed):
            calendar.next_open(noon)


def test_a_time_without_a_zone_is_refused():
    """The zone of whichever machine asked would decide whether the dock is open."""
    with pytest.raises(BadMoment):
        LAB.is_open(datetime(2026, 11, 25, 10, 30))


def test_from_data():
    """The hours on the signed sheet would not be the hours that are used."""
    calendar = Calendar.from_data(DATA)
    assert calendar.hours == {0: ((time(8), time(12)), (time(13), time(17))), 5: ((time(0), time(0)),)}
    assert calendar.closed == {date(2026, 11, 26)}
    assert (calendar.knows(date(2027, 12, 31)), calendar.knows(date(2028, 1, 1))) == (True, False)
    assert calendar.to_data() == DATA


@given(CALENDARS)
def test_data_round_trip(calendar):
    """A calendar exported and signed again would open at other hours."""
    assert Calendar.from_data(calendar.to_data()) == calendar


def test_federal_days_of_every_year_listed():
    """An office that keeps federal days would be open on 31 December 2027 (5 U.S.C. 6103(b): New Year 2028 is
    a Saturday).
    """
    calendar = Calendar.from_data({**DATA, "closed": ["us-federal", "2026-11-27"]})
    assert {date(2026, 7, 3), date(2026, 11, 27), date(2027, 6, 18), date(2027, 12, 31)} < calendar.closed
    assert len(calendar.closed) == 11 + 12 + 1
    assert Calendar.from_data({**DATA, "closed": ["us-federal"], "years": []}).closed == frozenset()


@pytest.mark.parametrize(
    ("change", "places"),
    [
        ({"zone": "Chicago"}, ["/zone"]),
        ({"zone": None}, ["/zone"]),
        ({"hours": None}, ["/hours"]),
        ({"hours": {"monday": []}}, ["/hours/monday"]),
        ({"hours": {"mon": "08:00-17:00"}}, ["/hours/mon"]),
        (
            {"hours": {"mon": ["8:00-17:00", "17:00-08:00", "08:00-08:00", "24:00-08:00", "08:00-25:00", 8]}},
            [f"/hours/mon/{n}" for n in range(6)],
        ),
        ({"hours": {"mon": ["08:00-12:00", "11:59-17:00"]}}, ["/hours/mon/1"]),
        ({"hours": {"mon": ["08:00-24:00", "09:00-10:00"]}}, ["/hours/mon/1"]),
        ({"hours": {"mon": ["08:00-12:00", "12:00-17:00"]}}, []),
        (
            {"closed": ["2026-02-29", "26 Nov", 20261126, "20261126", "2026-W48-4"]},
            [f"/closed/{n}" for n in range(5)],
        ),
        ({"closed": None}, ["/closed"]),
        (
            {"years": [1989, 1990, 2099, 2100, "2026", True, 2026.0]},
            ["/years/0", "/years/3", "/years/4", "/years/5", "/years/6"],
        ),
        ({"years": None}, ["/years"]),
        ({"colsed": []}, ["/colsed"]),
        (
            {"zone": "", "hours": [], "closed": {}, "years": {}, "note": ""},
            ["/closed", "/hours", "/note", "/years", "/zone"],
        ),
    ],
)
def test_faults_of_a_calendar_are_named_all_at_once(change, places):
    """A person would correct a calendar once per fault, or a typing error would silently open the dock on a
    holiday.
    """
    if not places:
        assert Calendar.from_data({**DATA, **change}).zone == CHICAGO
        return
    with pytest.raises(Malformed) as refused:
        Calendar.from_data({**DATA, **change})
    assert refused.value.code == ("bad-calendar" if set(change) <= set(DATA) else NOT_KNOWN)
    assert sorted(error["at"] for error in refused.value.facts["errors"]) == places
    assert all(error["says"].endswith(".") for error in refused.value.facts["errors"])


def test_the_zone_of_the_machine_does_not_matter(monkeypatch):
    """A server moved to another region would open and shut docks at other hours."""
    try:
        for zone in ("UTC", "Asia/Kathmandu", "America/Los_Angeles"):
            monkeypatch.setenv("TZ", zone)
            machine.tzset()
            assert LAB.next_open(_at("2026-11-25T17:01")) == datetime(2026, 11, 27, 14, tzinfo=UTC)
    finally:
        monkeypatch.undo()
        machine.tzset()
