"""When a laboratory, a carrier or an office is open: weekly hours on local clocks, and days it is shut.

Rules:
1. Hours are local times in an IANA zone; every question and answer is an instant.
2. Opening and closing times are both inside: at 17:00 sharp a dock open 08:00-17:00 still takes the parcel
   (common practice, no source). A millisecond later it is shut.
3. A local time that the clocks repeat is its first occurrence; one that they skip is read at the offset
   before the change (RFC 5545 3.3.5).
4. Closed days are data, entered year by year. A year not entered is unknown, not free of holidays.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from typing import Any, Self
from zoneinfo import ZoneInfo

from bailee.domain.moments import named_zone
from bailee.domain.opening_hours import federal_holidays
from bailee.errors import NOT_KNOWN, BadMoment, Malformed
from bailee.frozen import frozen

WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
FEDERAL = "us-federal"
# Longer than any closure for rebuilding; beyond it the hours were entered wrongly.
SEARCH_DAYS = 400
# The years for which the tests compare the federal days with another implementation.
KNOWN_YEARS = range(1990, 2100)
# A house that shuts forty days a year has listed twenty-five years with so many.
MOST_ITEMS = 1000
MOST_FAULTS = 50
_FIELDS = ("zone", "hours", "closed", "years")
_MIDNIGHT = time(0)
_DAY = timedelta(days=1)
_SPAN = re.compile(r"(?P<opens>(?:[01][0-9]|2[0-3]):[0-9]{2})-(?P<closes>[0-9]{2}:[0-9]{2})")
_ISO_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")

Span = tuple[time, time]
"""Opening and closing time; a closing time of 00:00 is the midnight that ends the day."""


@frozen
class Calendar:
    """Opening hours per weekday (0 is Monday) in an IANA zone, closed days, and the years they are complete
    for.

    The spans of a day are in order and do not overlap; a weekday without spans is shut.
    """

    zone: str
    hours: Mapping[int, tuple[Span, ...]]
    closed: frozenset[date] = frozenset()
    known_years: frozenset[int] = frozenset()

    @classmethod
    def from_data(cls, data: Mapping[str, Any]) -> Self:
        """Read the body of `calendar_set`; raises `Malformed`, all faults (the first `MOST_FAULTS`) at once
        in `facts["errors"]`.

        `{"zone": …, "hours": {"mon": ["08:00-17:00"], …}, "closed": ["2026-11-26", …], "years": [2026, …]}`.
        The name `us-federal` among the closed days stands for the observed federal days of every year listed.
        """
        reading = _Reading()
        for name in sorted(set(data) - set(_FIELDS)):
            reading.fault(f"/{name}", f"Remove {name!r}: a calendar has zone, hours, closed and years only.")
        years = reading.years(data.get("years"))
        calendar = cls(
            zone=reading.zone(data.get("zone")),
            hours=reading.hours(data.get("hours")),
            closed=reading.closed(data.get("closed"), years),
            known_years=years,
        )
        if reading.errors:
            raise Malformed(
                f"Correct the calendar: {reading.errors[0]['says']}",
                code="bad-calendar" if set(data) <= set(_FIELDS) else NOT_KNOWN,
                errors=reading.errors,
            )
        return calendar

    def to_data(self) -> dict[str, Any]:
        """Return what `from_data` reads, with every closed day by its date."""
        spans = {
            WEEKDAYS[weekday]: [_span_text(span) for span in self.hours[weekday]]
            for weekday in sorted(self.hours)
        }
        return {
            "zone": self.zone,
            "hours": {weekday: texts for weekday, texts in spans.items() if texts},
            "closed": [day.isoformat() for day in sorted(self.closed)],
            "years": sorted(self.known_years),
        }

    def knows(self, day: date) -> bool:
        """Whether the closed days of this day's year have been entered (SH-12)."""
        return day.year in self.known_years

    def is_open(self, instant: datetime) -> bool:
        """Whether it is open at this aware instant, opening and closing time included."""
        today = self.local_date(instant)
        return any(opens <= instant <= closes for opens, closes in self._spans(today - _DAY, 2, 1))

    def next_open(self, instant: datetime) -> datetime:
        """Return the first open instant (UTC) that is not before this one: itself when open.

        Raises `Malformed`, code `never-open`, if there is none within 400 days.
        """
        for opens, closes in self._spans(self.local_date(instant) - _DAY, SEARCH_DAYS + 2, 1):
            if instant <= closes:
                return max(instant, opens).astimezone(UTC)
        raise Malformed(
            f"Check the opening hours: this calendar shows no opening in the {SEARCH_DAYS} days after that"
            " time.",
            code="never-open",
            after=instant.isoformat(),
        )

    def last_open(self, instant: datetime) -> datetime | None:
        """Return the last open instant (UTC) that is not after this one; none in the 400 days before."""
        for opens, closes in self._spans(self.local_date(instant), SEARCH_DAYS + 1, -1):
            if opens <= instant:
                return min(instant, closes).astimezone(UTC)
        return None

    def close_of_working_day(self, instant: datetime, days: int) -> datetime:
        """Return when it closes on the so-manieth day of opening after the local day of this instant (UTC).

        Raises `Malformed`, code `never-open`, if there are fewer within 400 days. With 0 days it is the
        instant itself.
        """
        closings: dict[date, datetime] = {}
        for opens, closes in self._spans(self.local_date(instant) + _DAY, SEARCH_DAYS, 1):
            closings[self.local_date(opens)] = closes
            if len(closings) > days:
                break
        if len(closings) < days:
            raise Malformed(
                f"Check the opening hours: this calendar shows too few working days in the {SEARCH_DAYS} days"
                " after that time.",
                code="never-open",
                after=instant.isoformat(),
            )
        return list(closings.values())[days - 1] if days else instant.astimezone(UTC)

    def open_minutes(self, start: datetime, end: datetime) -> Decimal:
        """Return the minutes it is open between two instants; zero when `end` is not after `start`."""
        first = self.local_date(start) - _DAY
        days = (self.local_date(end) - first).days + 1
        overlaps = (min(end, closes) - max(start, opens) for opens, closes in self._spans(first, days, 1))
        total = sum((overlap for overlap in overlaps if overlap > timedelta()), timedelta())
        return Decimal(total // timedelta(milliseconds=1)) / 60_000

    def local_date(self, instant: datetime) -> date:
        """Return the calendar day here at an aware instant; raises `BadMoment` for a naive one."""
        if instant.tzinfo is None:
            raise BadMoment("Give the time with its offset from UTC.", instant=instant.isoformat())
        return instant.astimezone(named_zone(self.zone)).date()

    def _spans(self, first: date, days: int, step: int) -> Iterator[tuple[datetime, datetime]]:
        """Yield the open spans of so many days, onward (step 1) or backward (-1), as UTC instants."""
        zone = named_zone(self.zone)
        for offset in range(days):
            day = first + step * offset * _DAY
            if day in self.closed:
                continue
            for opens, closes in self.hours.get(day.weekday(), ())[::step]:
                ends = day + _DAY if closes == _MIDNIGHT else day
                start, end = _instant(day, opens, zone), _instant(ends, closes, zone)
                # Hours that a clock change swallows whole are not hours.
                if start <= end:
                    yield start, end


def at_local(day: date, clock: time, zone: str) -> datetime:
    """Return the UTC instant of a local time that a person did not read but a plan names (RFC 5545 3.3.5)."""
    return _instant(day, clock, named_zone(zone))


def _instant(day: date, clock: time, zone: ZoneInfo) -> datetime:
    return datetime.combine(day, clock, tzinfo=zone).astimezone(UTC)


class _Reading:
    """Collects every fault of one calendar, so that a person corrects it once."""

    def __init__(self) -> None:
        self.errors: list[dict[str, str]] = []

    def fault(self, at: str, says: str) -> None:
        if len(self.errors) == MOST_FAULTS - 1:
            says = "This is wrong too, and perhaps more: correct what is listed first."
        if len(self.errors) < MOST_FAULTS:
            self.errors.append({"at": at, "says": says})

    def zone(self, value: object) -> str:
        try:
            return named_zone(value if isinstance(value, str) else "").key
        except BadMoment as error:
            self.fault("/zone", error.sentence)
            return "UTC"

    def hours(self, value: object) -> dict[int, tuple[Span, ...]]:
        if not isinstance(value, dict):
            self.fault("/hours", "Give the hours by weekday, like {'mon': ['08:00-17:00']}.")
            return {}
        for name in sorted(set(value) - set(WEEKDAYS)):
            self.fault(f"/hours/{name}", f"Name the weekday as one of {', '.join(WEEKDAYS)}.")
        week = {weekday: self._day(name, value.get(name, [])) for weekday, name in enumerate(WEEKDAYS)}
        return {weekday: spans for weekday, spans in week.items() if spans}

    def closed(self, value: object, years: frozenset[int]) -> frozenset[date]:
        days: set[date] = set()
        federal: frozenset[int] = frozenset()
        for at, item in self._items("/closed", value):
            if item == FEDERAL:
                federal = years
                continue
            try:
                days.add(_iso_day(item))
            except ValueError:
                self.fault(at, f"Write the closed day like 2026-11-26, or {FEDERAL}.")
        days.update(day for year in federal for day in federal_holidays.observed(year))
        return frozenset(days)

    def years(self, value: object) -> frozenset[int]:
        years: set[int] = set()
        for at, item in self._items("/years", value):
            if isinstance(item, int) and not isinstance(item, bool) and item in KNOWN_YEARS:
                years.add(item)
            else:
                self.fault(at, f"Write the year as a number between {KNOWN_YEARS[0]} and {KNOWN_YEARS[-1]}.")
        return frozenset(years)

    def _day(self, name: str, value: object) -> tuple[Span, ...]:
        spans: list[Span] = []
        for at, item in self._items(f"/hours/{name}", value):
            try:
                opens, closes = _span(item)
            except ValueError:
                self.fault(at, "Write the hours like 08:00-17:00, the opening before the closing.")
                continue
            if spans and (spans[-1][1] == _MIDNIGHT or opens < spans[-1][1]):
                self.fault(at, "Put the hours of a day in order, without overlap.")
            spans.append((opens, closes))
        return tuple(spans)

    def _items(self, at: str, value: object) -> list[tuple[str, object]]:
        if isinstance(value, list) and len(value) > MOST_ITEMS:
            self.fault(at, f"List at most {MOST_ITEMS} items: there are {len(value)}.")
            return []
        if isinstance(value, list):
            return [(f"{at}/{position}", item) for position, item in enumerate(value)]
        self.fault(at, "Give a list, even if it is empty.")
        return []


def _span(item: object) -> Span:
    found = _SPAN.fullmatch(item) if isinstance(item, str) else None
    if found is None:
        raise ValueError(item)
    opens = time.fromisoformat(found["opens"])
    if found["closes"] == "24:00":
        return opens, _MIDNIGHT
    closes = time.fromisoformat(found["closes"])
    if opens >= closes:
        raise ValueError(item)
    return opens, closes


def _span_text(span: Span) -> str:
    opens, closes = span
    return f"{opens:%H:%M}-{'24:00' if closes == _MIDNIGHT else f'{closes:%H:%M}'}"


def _iso_day(item: object) -> date:
    if not isinstance(item, str) or _ISO_DAY.fullmatch(item) is None:
        raise ValueError(item)
    return date.fromisoformat(item)
