"""When something happened: an instant that keeps the offset of the clock it was read from.

Rules:
1. A time without an offset is not a time: it is refused, never guessed from the machine's zone.
2. Comparison, difference and order use the instant alone; the offset only says how to show it.
3. A local time that a clock change skips does not exist; one that it repeats is two times, and a person
   chooses.
4. Nothing finer than a millisecond is kept, so every text stays exact.
"""

from __future__ import annotations

import calendar
import re
from datetime import UTC, date, datetime, timedelta, timezone
from decimal import Decimal
from typing import Self
from zoneinfo import ZoneInfo

from bailee.errors import BadMoment
from bailee.frozen import field, frozen

# The widest offsets of civil clocks on Earth today (tz database: Etc/GMT+12 and Etc/GMT-14).
_OFFSETS = range(-12 * 60, 14 * 60 + 1)
# One bound keeps all later date arithmetic inside the calendar.
_YEARS = range(1900, 3000)
_FIRST = datetime(_YEARS[0], 1, 1, tzinfo=UTC)
_LAST = datetime(_YEARS[-1], 12, 31, 23, 59, 59, tzinfo=UTC)
_MINUTE = timedelta(minutes=1)
_YEAR_SENTENCE = "Check the year: it must lie between 1900 and 2999."
# Zones named otherwise are traps: "localtime" is this machine's own, "EST" never changes in summer, "right/…"
# counts leap seconds.
_ZONE = re.compile(
    r"UTC|(?:Africa|America|Antarctica|Arctic|Asia|Atlantic|Australia|Canada|Etc|Europe|Indian|Pacific|US)/.+",
)
_LOCAL = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}[Tt][0-9]{2}:[0-9]{2}(?::[0-9]{2}(?:\.[0-9]{1,3})?)?")
_MOMENT = re.compile(
    r"(?P<local>[0-9]{4}-[0-9]{2}-[0-9]{2}[Tt][0-9]{2}:[0-9]{2}:[0-9]{2}(?:\.[0-9]{1,3})?)"
    r"(?P<offset>[Zz]|[+-][0-9]{2}:[0-9]{2})",
)
_OFFSET = re.compile(r"(?P<sign>[+-])(?P<hours>[0-9]{2}):(?P<minutes>[0-5][0-9])")
_DAY = re.compile(r"(?P<year>[0-9]{4})-(?P<month>[0-9]{2})(?:-(?P<day>[0-9]{2}))?")


@frozen
class Moment:
    """An instant (aware, UTC, to the millisecond) and the offset in minutes of the clock that showed it.

    Equal and ordered by the instant: 14:00-05:00 and 13:00-06:00 are the same moment. Raises `BadMoment` if
    the instant is naive, finer than a millisecond or outside 1900 to 2999, or the offset is used nowhere on
    Earth.
    """

    instant: datetime
    offset_minutes: int = field(compare=False)

    def __post_init__(self) -> None:
        if self.instant.tzinfo is None:
            raise BadMoment("Give the time with its offset from UTC.", instant=self.instant.isoformat())
        if self.instant.microsecond % 1000:
            raise BadMoment("Give the time in whole milliseconds.", instant=self.instant.isoformat())
        if self.offset_minutes not in _OFFSETS:
            raise BadMoment(
                "Check the offset from UTC: clocks on Earth lie between -12:00 and +14:00.",
                offset_minutes=self.offset_minutes,
            )
        if self.instant.year not in _YEARS:
            raise BadMoment(_YEAR_SENTENCE, instant=self.instant.isoformat())
        object.__setattr__(self, "instant", self.instant.astimezone(UTC))

    # Python asks the other side for > and >=.
    def __lt__(self, other: Moment) -> bool:
        return self.instant < other.instant

    def __le__(self, other: Moment) -> bool:
        return self.instant <= other.instant

    @classmethod
    def parse(cls, text: str) -> Self:
        """Read an RFC 3339 5.6 date-time, e.g. `2026-11-25T09:12:00-05:00`; raises `BadMoment`.

        `-00:00` (RFC 3339 4.3, "local offset unknown") and leap seconds are refused: no clock on site shows
        them.
        """
        found = _MOMENT.fullmatch(text)
        if found is None:
            raise BadMoment(
                "Write the time with its offset from UTC, like 2026-11-25T09:12:00-05:00.",
                text=text,
            )
        offset = 0 if found["offset"] in "Zz" else parse_offset(found["offset"])
        return cls(_naive(found["local"]).replace(tzinfo=timezone(timedelta(minutes=offset))), offset)

    @classmethod
    def of(cls, epoch_seconds: int, offset: str) -> Self:
        """Return the moment so many whole seconds after 1970-01-01T00:00:00Z, shown at an offset like
        `-05:00`.
        """
        try:
            instant = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=epoch_seconds)
        except OverflowError as error:
            raise BadMoment(_YEAR_SENTENCE, epoch_seconds=epoch_seconds) from error
        return cls(instant, parse_offset(offset))

    @classmethod
    def shown_in(cls, instant: datetime, zone: str) -> Self:
        """Return this aware instant as the clocks of an IANA zone show it, to the whole minute of offset.

        Raises `BadMoment`.
        """
        if instant.tzinfo is None:
            raise BadMoment("Give the time with its offset from UTC.", instant=instant.isoformat())
        return cls(instant, _offset(instant, zone) // _MINUTE)

    @classmethod
    def in_zone(cls, local: str, zone: str, *, fold: int | None = None) -> Self:
        """Read a local time like `2026-11-25T14:00` on the clocks of an IANA zone.

        `fold` chooses between the first (0) and second (1) of a time that occurs twice (PEP 495); otherwise
        it changes nothing. Raises `BadMoment`, code `no-such-time` for a time the clocks skip,
        `two-such-times` (with `facts["candidates"]`) for one they repeat.
        """
        if _LOCAL.fullmatch(local) is None:
            raise BadMoment("Write the local time like 2026-11-25T14:00, without an offset.", text=local)
        instants = instants_of(_naive(local), zone)
        if any(_offset(instant, zone) % _MINUTE for instant in instants):
            raise BadMoment(
                f"Check the year: {zone} had no offset in whole minutes then.", local=local, zone=zone
            )
        candidates = [cls.shown_in(instant, zone) for instant in instants]
        if not candidates:
            raise BadMoment(
                f"Read the clock again: {local} did not exist in {zone}, the clocks skipped over it.",
                code="no-such-time",
                local=local,
                zone=zone,
            )
        if len(candidates) > 1 and fold is None:
            first, second = (candidate.text() for candidate in candidates)
            raise BadMoment(
                f"Write which one you mean: {local} occurred twice in {zone}, at {first} and at {second}.",
                code="two-such-times",
                local=local,
                zone=zone,
                candidates=[first, second],
            )
        return candidates[-1] if fold else candidates[0]

    def moved(self, by: timedelta) -> Moment:
        """So much later (or earlier) on the same clock, and no further than there are years: for reckoning
        with what others said.

        What somebody signed must never stop whoever reads it, and a bound that far away is as good as any.
        """
        try:
            instant = min(max(self.instant + by, _FIRST), _LAST)
        except OverflowError:
            instant = _LAST if by > timedelta() else _FIRST
        return Moment(instant, self.offset_minutes)

    @property
    def local(self) -> datetime:
        """The aware time as the clock on site showed it."""
        return self.instant.astimezone(timezone(timedelta(minutes=self.offset_minutes)))

    @property
    def local_date(self) -> date:
        """The calendar day on site, which decides whether a lot was in date."""
        return self.local.date()

    @property
    def epoch_seconds(self) -> int:
        """Whole seconds since 1970-01-01T00:00:00Z, rounded down."""
        return (self.instant - datetime(1970, 1, 1, tzinfo=UTC)) // timedelta(seconds=1)

    @property
    def clock(self) -> str:
        """`2026-11-27 10:30 (-06:00)`, as every sentence shows a time; seconds only where they are not
        zero.
        """
        shown = f"{self.local:%Y-%m-%d %H:%M:%S}".removesuffix(":00")
        return f"{shown} ({offset_text(self.offset_minutes)})"

    def text(self) -> str:
        """RFC 3339 text at the kept offset, always numeric (`+00:00`, never `Z`).

        Milliseconds only if there are any.
        """
        precision = "milliseconds" if self.instant.microsecond else "seconds"
        return self.local.replace(tzinfo=None).isoformat(timespec=precision) + offset_text(
            self.offset_minutes
        )

    def __str__(self) -> str:
        return self.text()


def _offset(instant: datetime, zone: str) -> timedelta:
    offset = instant.astimezone(named_zone(zone)).utcoffset()
    assert offset is not None
    return offset


def named_zone(name: str) -> ZoneInfo:
    """Return the IANA time zone of this name (`America/Chicago`, `UTC`).

    Raises `BadMoment`, code `unknown-zone`.
    """
    found: Exception | None = None
    if _ZONE.fullmatch(name):
        try:
            return ZoneInfo(name)
        except (KeyError, ValueError, OSError) as error:
            found = error
    raise BadMoment(
        f"Name the time zone by area and city, like America/Chicago: {name!r} is not one.",
        code="unknown-zone",
        zone=name,
    ) from found


def instants_of(naive: datetime, zone: str) -> tuple[datetime, ...]:
    """Return every UTC instant at which the clocks of a zone show this naive time: none, one or two, in
    order.
    """
    place = named_zone(zone)
    try:
        both = {naive.replace(tzinfo=place, fold=fold).astimezone(UTC) for fold in (0, 1)}
        return tuple(sorted(i for i in both if i.astimezone(place).replace(tzinfo=None) == naive))
    except OverflowError as error:
        raise BadMoment(_YEAR_SENTENCE, local=naive.isoformat()) from error


def parse_offset(text: str) -> int:
    """Return the minutes of an offset like `-05:00` (RFC 3339 5.6 time-numoffset); raises `BadMoment`."""
    found = _OFFSET.fullmatch(text)
    if found is None or text == "-00:00":
        raise BadMoment("Write the offset from UTC like -05:00 or +00:00.", offset=text)
    minutes = int(found["hours"]) * 60 + int(found["minutes"])
    signed = -minutes if found["sign"] == "-" else minutes
    if signed not in _OFFSETS:
        raise BadMoment(
            "Check the offset from UTC: clocks on Earth lie between -12:00 and +14:00.",
            offset=text,
        )
    return signed


def offset_text(minutes: int) -> str:
    """Return an offset in minutes as RFC 3339 writes it: -300 is `-05:00`, 0 is `+00:00`."""
    hours, rest = divmod(abs(minutes), 60)
    return f"{'-' if minutes < 0 else '+'}{hours:02d}:{rest:02d}"


def minutes_between(a: Moment, b: Moment) -> Decimal:
    """Return the true minutes from `a` to `b`, negative if `b` came first; clock changes do not matter."""
    return _in_units_of(timedelta(minutes=1), b.instant - a.instant)


def hours_between(a: Moment, b: Moment) -> Decimal:
    """Return the true hours from `a` to `b`, negative if `b` came first; clock changes do not matter."""
    return _in_units_of(timedelta(hours=1), b.instant - a.instant)


def hours(length: timedelta) -> Decimal:
    """Return a length in hours, exact to the millisecond."""
    return _in_units_of(timedelta(hours=1), length)


def duration_words(length: timedelta) -> str:
    """Return a length for a person, `62 h 45 min`: whole seconds, toward zero, nothing rounded away above
    that.
    """
    seconds = abs(length) // timedelta(seconds=1)
    counts = ((seconds // 3600, "h"), (seconds // 60 % 60, "min"), (seconds % 60, "s"))
    words = " ".join(f"{count} {unit}" for count, unit in counts if count)
    if not words:
        return "under 1 min"
    return f"minus {words}" if length < timedelta() else words


def clock_words(ahead_s: int) -> str:
    """By how much a clock is wrong, beside one that is so many seconds ahead of it: `1 day 2 h 5 min behind`;
    `ahead` where that is negative.
    """
    minutes = abs(ahead_s) // 60
    days = minutes // 1440
    counts = ((days, "day" if days == 1 else "days"), (minutes // 60 % 24, "h"), (minutes % 60, "min"))
    words = " ".join(f"{count} {unit}" for count, unit in counts if count) or "less than 1 min"
    return f"{words} {'behind' if ahead_s > 0 else 'ahead'}"


def last_day(text: str) -> date:
    """Return the last day in date of an expiry: `2026-11-30` is that day, `2026-11` the month's last; raises
    `BadMoment`.

    The day counts as in date, on the clocks of the site (common practice, no source).
    """
    refusal = BadMoment("Write the expiration date as printed, like 2026-11-30 or 2026-11.", text=text)
    found = _DAY.fullmatch(text)
    if found is None:
        raise refusal
    if not 1 <= int(found["month"]) <= 12:
        raise BadMoment(f"{found['month']} is not a month: write 01 to 12, as in 2026-11.", text=text)
    try:
        first = date(int(found["year"]), int(found["month"]), 1)
        return first.replace(day=int(found["day"] or calendar.monthrange(first.year, first.month)[1]))
    except ValueError as error:
        raise refusal from error


def _naive(text: str) -> datetime:
    whole, _, fraction = text.partition(".")
    year, month, day, hour, minute, *second = (int(number) for number in re.split("[-Tt:]", whole))
    try:
        return datetime(  # noqa: DTZ001 - the offset or the zone is added by the caller
            year,
            month,
            day,
            hour,
            minute,
            second[0] if second else 0,
            int(f"{fraction:0<6}"),
        )
    except ValueError as error:
        raise BadMoment("Check the date and time: no calendar or clock shows them.", text=text) from error


def _in_units_of(unit: timedelta, length: timedelta) -> Decimal:
    tick = timedelta(milliseconds=1)
    return Decimal(length // tick) / Decimal(unit // tick)
