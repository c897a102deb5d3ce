"""Moments.

Oracles: RFC 3339, the tz database through zoneinfo and python-dateutil, worked tables of the trade.
"""

import time
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from dateutil import tz
from hypothesis import given
from hypothesis import strategies as st

from bailee.domain.moments import (
    Moment,
    duration_words,
    hours_between,
    instants_of,
    last_day,
    minutes_between,
    named_zone,
    offset_text,
    parse_offset,
)
from bailee.errors import BadMoment
from published import rows

NEW_YORK, CHICAGO, PHOENIX, LOS_ANGELES = (
    f"America/{city}" for city in ("New_York", "Chicago", "Phoenix", "Los_Angeles")
)
ZONES = [
    NEW_YORK,
    CHICAGO,
    PHOENIX,
    LOS_ANGELES,
    "America/St_Johns",
    "Australia/Lord_Howe",
    "Asia/Kathmandu",
    "UTC",
]
OFFSETS = st.integers(-12 * 60, 14 * 60)
INSTANTS = st.datetimes(datetime(1900, 1, 2), datetime(2999, 12, 30)).map(
    lambda naive: naive.replace(microsecond=naive.microsecond // 1000 * 1000, tzinfo=UTC),
)
MOMENTS = st.builds(Moment, INSTANTS, OFFSETS)

# Source: 15 U.S.C. 260a and the tz database; Arizona keeps standard time. Clock difference, true hours.
ELAPSED = [
    ("2026-11-25T14:00", NEW_YORK, "2026-11-27T10:30", CHICAGO, "44.5", "45.5"),
    ("2026-11-25T14:00", NEW_YORK, "2026-11-30T08:00", CHICAGO, "114", "115"),
    ("2027-03-12T16:00", NEW_YORK, "2027-03-15T09:00", NEW_YORK, "65", "64"),
    ("2026-10-30T16:00", NEW_YORK, "2026-11-02T09:00", NEW_YORK, "65", "66"),
    ("2026-07-10T15:00", PHOENIX, "2026-07-13T09:00", CHICAGO, "66", "64"),
    ("2026-12-11T15:00", PHOENIX, "2026-12-14T09:00", CHICAGO, "66", "65"),
    # Derived: the first holding-time warning of the trade table (Friday 11:00 Eastern to Monday 10:30
    # Central).
    ("2026-12-04T11:00", NEW_YORK, "2026-12-07T10:30", CHICAGO, "71.5", "72.5"),
]


@pytest.mark.parametrize(("start", "start_zone", "end", "end_zone", "by_clock", "true"), ELAPSED)
def test_elapsed_hours_are_true_hours(start, start_zone, end, end_zone, by_clock, true):
    """A weekend over a clock change would hide or invent an hour against the holding limit."""
    a, b = Moment.in_zone(start, start_zone), Moment.in_zone(end, end_zone)
    utc = [
        datetime.fromisoformat(t).replace(tzinfo=ZoneInfo(z)).astimezone(UTC)
        for t, z in ((start, start_zone), (end, end_zone))
    ]
    assert hours_between(a, b) == Decimal(true) == Decimal((utc[1] - utc[0]).total_seconds()) / 3600
    naive = datetime.fromisoformat(end) - datetime.fromisoformat(start)
    assert naive == timedelta(hours=float(by_clock))


def test_elapsed_hours_of_the_trade():
    """The phone, the service and the auditor would show different hours for the same journey."""
    for from_zone, from_local, to_zone, to_local, hours in rows("trade", "elapsed"):
        start, end = Moment.in_zone(from_local, from_zone), Moment.in_zone(to_local, to_zone)
        assert hours_between(start, end) == Decimal(hours), from_local


def test_repeated_and_skipped_times_of_the_trade():
    """A time that is two times, or none, would be guessed instead of asked for."""
    for zone, local, *instants in rows("trade", "two_times"):
        with pytest.raises(BadMoment) as refused:
            Moment.in_zone(local, zone)
        named = [Moment.parse(text).instant for text in refused.value.facts["candidates"]]
        assert named == [datetime.fromisoformat(text) for text in instants]
    for zone, local in rows("trade", "no_time"):
        with pytest.raises(BadMoment) as refused:
            Moment.in_zone(local, zone)
        assert refused.value.code == "no-such-time"


def test_expiry_of_the_trade():
    """A lot would be called expired by the day in London instead of the day on site."""
    for printed, zone, local, verdict, *instant in rows("trade", "expiry"):
        moment = Moment.in_zone(local, zone)
        assert [moment.instant] * len(instant) == [datetime.fromisoformat(text) for text in instant]
        assert (moment.local_date > last_day(printed)) is (verdict == "expired"), local


def test_expiry_is_judged_by_the_day_on_site():
    """An evening sample on the west coast would be rejected for a lot that was in date (common practice, no
    source).
    """
    evening = Moment.shown_in(datetime(2026, 12, 1, 5, tzinfo=UTC), LOS_ANGELES)
    assert evening.text() == "2026-11-30T21:00:00-08:00"
    assert evening.local_date == last_day("2026-11-30") == last_day("2026-11")
    assert Moment.in_zone("2026-12-01T00:00", LOS_ANGELES).local_date > last_day("2026-11")


def test_twenty_minutes_over_midnight_are_twenty_minutes():
    """The outdoor control would be thrown out because midnight lay between it and the indoor sample."""
    outdoor, indoor = Moment.in_zone("2026-11-24T23:50", CHICAGO), Moment.in_zone("2026-11-25T00:10", CHICAGO)
    assert minutes_between(outdoor, indoor) == 20
    assert minutes_between(indoor, outdoor) == -20


@pytest.mark.parametrize(
    ("text", "utc"),
    [
        # RFC 3339 5.8, all examples that name an instant a datetime can hold.
        ("1985-04-12T23:20:50.52Z", datetime(1985, 4, 12, 23, 20, 50, 520_000, tzinfo=UTC)),
        ("1996-12-19T16:39:57-08:00", datetime(1996, 12, 20, 0, 39, 57, tzinfo=UTC)),
        ("1937-01-01T12:00:27.87+00:20", datetime(1937, 1, 1, 11, 40, 27, 870_000, tzinfo=UTC)),
        # RFC 3339 5.6: T and Z may be lower case.
        ("2026-11-25t09:12:00z", datetime(2026, 11, 25, 9, 12, tzinfo=UTC)),
    ],
)
def test_rfc_3339_examples(text, utc):
    """A time written by another program to the standard would be refused or shifted."""
    assert Moment.parse(text).instant == utc
    assert Moment.parse(Moment.parse(text).text()) == Moment.parse(text)


@pytest.mark.parametrize(
    "text",
    [
        "2026-11-25T09:12:00",  # no offset
        "2026-11-25T09:12-05:00",  # RFC 3339 5.6: seconds are required
        "2026-11-25 09:12:00-05:00",
        "2026-11-25T09:12:00-0500",
        "2026-11-25T09:12:00-00:00",  # RFC 3339 4.3: offset unknown
        "2026-11-25T09:12:00+14:01",
        "2026-11-25T09:12:00-12:01",
        "2026-11-25T09:12:00-05:60",
        "2026-11-25T09:12:00.1234-05:00",
        "2026-02-29T09:12:00-05:00",  # RFC 3339 5.7: 2026 is no leap year
        "2026-11-25T24:00:00-05:00",  # RFC 3339 5.7: hours end at 23
        "1990-12-31T23:59:60Z",  # RFC 3339 5.8 leap second, which no clock on site shows
        "1899-12-31T23:59:59Z",
        "3000-01-01T00:00:00Z",
        "0001-01-01T00:00:00+14:00",
        "9999-12-31T23:59:59-12:00",
        "٢٠٢٦-11-25T09:12:00-05:00",
        "2026-11-25T09:12:00-05:00\n",
        "",
    ],
)
def test_texts_that_are_no_moment(text):
    """A mistyped or half-given time would enter the record as something nobody meant."""
    with pytest.raises(BadMoment) as refused:
        Moment.parse(text)
    assert refused.value.code == "bad-moment"
    assert refused.value.sentence.endswith(".")


@given(MOMENTS)
def test_text_round_trip(moment):
    """A moment would change by being written down. Oracle: Python's own ISO 8601 reader."""
    again = Moment.parse(moment.text())
    assert (again.instant, again.offset_minutes) == (moment.instant, moment.offset_minutes)
    oracle = datetime.fromisoformat(moment.text())
    assert (oracle, oracle.utcoffset()) == (moment.instant, timedelta(minutes=moment.offset_minutes))
    assert (moment.local_date, str(moment)) == (oracle.date(), moment.text())


@given(MOMENTS, MOMENTS)
def test_order_and_difference_use_the_instant_alone(a, b):
    """Two holders in two zones would appear in the wrong order. Oracle: POSIX seconds."""
    assert (a < b, a == b) == (a.instant.timestamp() < b.instant.timestamp(), a.instant == b.instant)
    assert minutes_between(a, b) == -minutes_between(b, a)
    assert minutes_between(a, b) * 60_000 == pytest.approx(
        (b.instant - a.instant) // timedelta(milliseconds=1)
    )


@given(OFFSETS)
def test_offset_round_trip(minutes):
    """The offset in a signed statement would name another clock than the one on site."""
    assert parse_offset(offset_text(minutes)) == minutes


@pytest.mark.parametrize("text", ["Z", "-5:00", "-00:00", "0500", "-05:60", "+14:01", "-12:01", "05:00", ""])
def test_offsets_that_are_none(text):
    """A malformed offset in a statement would be taken for another one."""
    with pytest.raises(BadMoment):
        parse_offset(text)


def test_of_epoch_seconds():
    """The time claimed in a signed statement would be shown wrongly.

    Source: RFC 7519 2, NumericDate; POSIX value.
    """
    moment = Moment.of(1_790_000_000, "-04:00")
    assert moment.instant.timestamp() == moment.epoch_seconds == 1_790_000_000
    assert moment.text() == "2026-09-21T10:13:20-04:00"
    assert Moment.of(-1, "+00:00").epoch_seconds == -1
    for absurd in (10**11, 10**18, -(10**11)):
        with pytest.raises(BadMoment):
            Moment.of(absurd, "-04:00")


def test_a_time_that_occurs_twice_is_asked_for():
    """On the night the clocks go back a sample would be an hour older or younger than it is
    (15 U.S.C. 260a).
    """
    with pytest.raises(BadMoment) as refused:
        Moment.in_zone("2026-11-01T01:30", NEW_YORK)
    assert refused.value.code == "two-such-times"
    assert refused.value.facts["candidates"] == ["2026-11-01T01:30:00-04:00", "2026-11-01T01:30:00-05:00"]
    assert all(text in refused.value.sentence for text in refused.value.facts["candidates"])
    first, second = (Moment.in_zone("2026-11-01T01:30", NEW_YORK, fold=fold) for fold in (0, 1))
    assert (first.instant, second.instant) == (
        datetime(2026, 11, 1, 5, 30, tzinfo=UTC),
        datetime(2026, 11, 1, 6, 30, tzinfo=UTC),
    )


@pytest.mark.parametrize("fold", [None, 0, 1])
def test_a_time_that_never_was_is_refused(fold):
    """In the night the clocks go forward a time would be recorded that no clock showed (15 U.S.C. 260a)."""
    with pytest.raises(BadMoment) as refused:
        Moment.in_zone("2027-03-14T02:30", NEW_YORK, fold=fold)
    assert refused.value.code == "no-such-time"
    assert Moment.in_zone("2027-03-14T02:30", PHOENIX, fold=fold).text() == "2027-03-14T02:30:00-07:00"
    assert Moment.in_zone("2027-03-14T01:59:59", NEW_YORK, fold=fold).offset_minutes == -300
    assert Moment.in_zone("2027-03-14T03:00", NEW_YORK, fold=fold).offset_minutes == -240


@given(st.datetimes(datetime(2020, 1, 1), datetime(2036, 1, 1)), st.sampled_from(ZONES))
def test_every_local_time_has_the_instants_of_another_library(naive, zone):
    """Times near a clock change would be accepted or refused wrongly.

    Oracle: python-dateutil on the system's tz files.
    """
    naive = naive.replace(second=0, microsecond=0)
    other = tz.gettz(zone)
    found = instants_of(naive, zone)
    assert bool(found) is tz.datetime_exists(naive, other)
    assert (len(found) == 2) is tz.datetime_ambiguous(naive, other)
    if len(found) == 1:
        assert found[0] == naive.replace(tzinfo=other).astimezone(UTC)


@pytest.mark.parametrize("change", ["2026-11-01", "2027-03-14"])
@pytest.mark.parametrize("zone", [NEW_YORK, CHICAGO, PHOENIX])
def test_every_minute_of_a_night_of_change(change, zone):
    """Same as above, where it matters: each minute of both nights. Oracle: python-dateutil."""
    start, other = datetime.fromisoformat(change), tz.gettz(zone)
    for naive in (start + timedelta(minutes=n) for n in range(240)):
        count = 2 if tz.datetime_ambiguous(naive, other) else int(tz.datetime_exists(naive, other))
        assert len(instants_of(naive, zone)) == count


@pytest.mark.parametrize(
    "local", ["2026-11-25", "2026-11-25T14", "2026-11-25T14:00-05:00", "2026-11-25T25:00", "14:00", ""]
)
def test_local_texts_that_are_none(local):
    """A half-typed local time would become midnight or noon."""
    with pytest.raises(BadMoment):
        Moment.in_zone(local, NEW_YORK)


@pytest.mark.parametrize(
    "name",
    [
        "",
        "Mars/Olympus",
        "America",
        "America/",
        "EST",
        "localtime",
        "posixrules",
        "right/UTC",
        "../UTC",
        "America/../UTC",
        "America/New_York\0",
    ],
)
def test_zones_that_are_none(name):
    """A mistyped zone would end in a stack trace, or in the zone of whichever machine asked."""
    with pytest.raises(BadMoment) as refused:
        named_zone(name)
    assert refused.value.code == "unknown-zone"


def test_moments_that_cannot_be():
    """Code that forgets the zone, or counts microseconds, would put times into the record that do not read
    back.
    """
    aware = datetime(2026, 11, 25, 14, tzinfo=UTC)
    for instant, offset in [
        (aware.replace(tzinfo=None), 0),
        (aware.replace(microsecond=1), 0),
        (aware, 841),
        (aware, -721),
    ]:
        with pytest.raises(BadMoment):
            Moment(instant, offset)
    with pytest.raises(BadMoment):
        Moment.shown_in(aware.replace(tzinfo=None), NEW_YORK)
    with pytest.raises(BadMoment):  # Monrovia stood at -0:43:08 until 1919 (tz database): no text can say so
        Moment.in_zone("1901-01-01T00:00", "Africa/Monrovia")
    assert Moment.shown_in(datetime(1901, 1, 1, tzinfo=UTC), "Africa/Monrovia").offset_minutes == -44
    for naive, zone in [(datetime(1, 1, 1), "Asia/Tokyo"), (datetime(9999, 12, 31, 23), NEW_YORK)]:
        with pytest.raises(BadMoment):
            instants_of(naive, zone)
    assert Moment(aware.astimezone(ZoneInfo(NEW_YORK)), -300).instant.tzinfo is UTC


def test_reckoning_ends_where_the_years_do() -> None:
    """What one person signed would stop everybody who reckons with it."""
    moment = Moment.parse("2026-11-25T14:00:00-05:00")
    assert moment.moved(timedelta(hours=-1)).text() == "2026-11-25T13:00:00-05:00"
    for by in (timedelta(days=365_000), timedelta.max):
        assert moment.moved(by).instant == datetime(2999, 12, 31, 23, 59, 59, tzinfo=UTC)
    for by in (timedelta(days=-60_000), timedelta.min):
        assert moment.moved(by).instant == datetime(1900, 1, 1, tzinfo=UTC)


@pytest.mark.parametrize(
    ("length", "words"),
    [
        (timedelta(hours=62, minutes=45), "62 h 45 min"),
        (timedelta(hours=115), "115 h"),
        (timedelta(minutes=8), "8 min"),
        (timedelta(seconds=200), "3 min 20 s"),
        (timedelta(hours=72, seconds=1), "72 h 1 s"),
        (timedelta(milliseconds=999), "under 1 min"),
        (timedelta(), "under 1 min"),
        (timedelta(minutes=-8), "minus 8 min"),
    ],
)
def test_duration_words(length, words):
    """A person would read a length that is not the one that was judged (wording is ours)."""
    assert duration_words(length) == words


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("2026-11-30", date(2026, 11, 30)),
        ("2026-11", date(2026, 11, 30)),
        ("2026-12", date(2026, 12, 31)),
        # Gregorian calendar: 2028 and 2000 are leap years, 2027 and 2100 are not.
        ("2027-02", date(2027, 2, 28)),
        ("2028-02", date(2028, 2, 29)),
        ("2000-02", date(2000, 2, 29)),
        ("2100-02", date(2100, 2, 28)),
    ],
)
def test_last_day_in_date(text, day):
    """A lot printed with a month only would expire weeks early (common practice, no source)."""
    assert last_day(text) == day


@pytest.mark.parametrize(
    "text", ["2026", "11/2026", "2026-13", "2026-00", "2026-11-31", "2026-11-3", "0000-01", "26-11", ""]
)
def test_expiries_that_are_none(text):
    """A mistyped expiry would be read as another day."""
    with pytest.raises(BadMoment):
        last_day(text)


def test_the_zone_of_the_machine_does_not_matter(monkeypatch):
    """A server moved to another region would re-date old samples."""
    try:
        seen = set()
        for machine in ("UTC", "Asia/Kathmandu", "America/Los_Angeles"):
            monkeypatch.setenv("TZ", machine)
            time.tzset()
            moment = Moment.in_zone("2026-11-25T23:30", NEW_YORK)
            seen.add((moment.text(), moment.local_date, moment.epoch_seconds, Moment.of(0, "-05:00").text()))
        assert seen == {
            ("2026-11-25T23:30:00-05:00", date(2026, 11, 25), 1_795_667_400, "1969-12-31T19:00:00-05:00")
        }
    finally:
        monkeypatch.undo()
        time.tzset()
