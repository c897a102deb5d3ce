"""Days, times and zones as people write them, read without guessing: what may mean two things is asked back.

Raises everywhere: `BadMoment`, with what to write.
"""

from __future__ import annotations

import re
from datetime import date
from functools import cache
from typing import Final
from zoneinfo import available_timezones

from bailee.domain import moments
from bailee.domain.moments import named_zone
from bailee.errors import BadMoment, BaileeError

_MONTHS: Final = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_CLOCK: Final = re.compile(
    r"(?P<hour>[0-9]{1,2})(?::(?P<minute>[0-5][0-9])(?::(?P<second>[0-5][0-9]))?)?\s*(?P<half>[ap]\.?m\.?)?",
    re.IGNORECASE,
)
_SLASHED: Final = re.compile(
    r"(?P<first>[0-9]{1,2})[/.](?P<second>[0-9]{1,2})[/.](?P<year>[0-9]{2}|[0-9]{4})"
)
_NAMED_DAY: Final = re.compile(
    r"(?:(?P<day>[0-9]{1,2})\.? (?P<month>[a-z]{3,9})\.?|(?P<month2>[a-z]{3,9})\.? (?P<day2>[0-9]{1,2}),?)"
    r" (?P<year>[0-9]{4})",
    re.IGNORECASE,
)
_MONTH: Final = re.compile(r"(?P<name>[a-z]{3,9})\.? (?P<year>[0-9]{4})", re.IGNORECASE)
_MONTH_NUMBER: Final = re.compile(r"(?P<month>[0-9]{1,2})[-./](?P<year>[0-9]{4})")
_ABBREVIATED: Final = {
    "EST": ("America/New_York", "America/Panama"),
    "EDT": ("America/New_York",),
    "CST": ("America/Chicago",),
    "CDT": ("America/Chicago",),
    "MST": ("America/Denver", "America/Phoenix"),
    "MDT": ("America/Denver",),
    "PST": ("America/Los_Angeles",),
    "PDT": ("America/Los_Angeles",),
    "AKST": ("America/Anchorage",),
    "AKDT": ("America/Anchorage",),
    "HST": ("Pacific/Honolulu",),
    "AST": ("America/Puerto_Rico", "America/Halifax"),
}
"""Clocks of the United States by the letters that stand beside a time there (49 CFR part 71 names the zones;
that Arizona and Hawaii keep standard time: tz database). They name a clock of one season, not a place."""
_OFFSETS: Final = {
    "UTC": "+00:00", "GMT": "+00:00", "AST": "-04:00", "EST": "-05:00", "EDT": "-04:00", "CST": "-06:00",
    "CDT": "-05:00", "MST": "-07:00", "MDT": "-06:00", "PST": "-08:00", "PDT": "-07:00", "AKST": "-09:00",
    "AKDT": "-08:00", "HST": "-10:00",
}  # fmt: skip
"""What these letters say beside a time (RFC 5322 4.3; 49 CFR part 71; tz database)."""
_MOST_ZONES: Final = 6


def day(text: str) -> str:
    """A day as `2026-11-28`: written so, or with the month's name.

    `11/12/2026` is asked back: where people write both orders nobody can tell which is the month. Of
    `11/28/2026` there is one reading, and it is taken.
    """
    said = text.strip()
    if found := _NAMED_DAY.fullmatch(said):
        return _dated(
            text,
            found["year"],
            _month(text, found["month"] or found["month2"]),
            found["day"] or found["day2"],
        )
    if found := _SLASHED.fullmatch(said):
        days = _orders(found)
        if len(days) == 1:
            return days[0]
        if not days:
            raise BadMoment(f"{text!r}: no calendar has that day.", code="bad-day", text=text)
        raise BadMoment(
            f"{text!r}: which is the month? Write {' or '.join(days)}.",
            code="which-month",
            text=text,
        )
    try:
        if len(said) == len("2026-11-28"):
            return moments.last_day(said).isoformat()
    except BaileeError:
        pass
    raise BadMoment(f"{text!r} is not a day: write it like 2026-11-28.", code="bad-day", text=text)


def last_day(text: str) -> str:
    """An expiration date as a box or a certificate shows it: a day, or a month, whose last day is meant.

    `2027-03`, `Mar 2027`, `03/2027` and `03-2027` are that month.
    """
    said = text.strip()
    if found := _MONTH.fullmatch(said):
        return f"{found['year']}-{_month(text, found['name'])}"
    if (found := _MONTH_NUMBER.fullmatch(said)) and 1 <= int(found["month"]) <= 12:
        return f"{found['year']}-{int(found['month']):02d}"
    if re.fullmatch(r"[0-9]{4}-[0-9]{2}", said):
        moments.last_day(said)
        return said
    try:
        return day(text)
    except BadMoment as error:
        if error.code != "bad-day":
            raise
        raise BadMoment(
            f"{text!r} is neither a day nor a month: write it like 2027-03-31, or 2027-03 for the end of that"
            " month.",
            code="bad-day",
            text=text,
        ) from None


def clock_letters(text: str) -> tuple[str, str]:
    """A time, and the offset of the letters beside it: `2 pm MST` is `2 pm` and `-07:00`.

    Without letters the offset is empty.
    """
    said, _, letters = text.strip().rpartition(" ")
    offset = _OFFSETS.get(letters.upper(), "") if said else ""
    return (said, offset) if offset else (text.strip(), "")


def clock(text: str) -> str:
    """A time of day as `09:12`: `9:12`, `9:12 am`, `12 pm`. An hour alone needs its half of the day."""
    found = _CLOCK.fullmatch(text.strip())
    if found and (found["minute"] or found["half"]):
        hour, half = int(found["hour"]), (found["half"] or "")[:1].lower()
        if half and 1 <= hour <= 12:
            hour = hour % 12 + (12 if half == "p" else 0)
        elif half:
            hour = 24  # 13:05 pm is neither
        if hour < 24:
            second = f":{found['second']}" if found["second"] else ""
            return f"{hour:02d}:{found['minute'] or '00'}{second}"
    raise BadMoment(f"{text!r} is not a time of day: write it like 09:12 or 9:12 pm.", text=text)


def local(text: str, today: date) -> str:
    """A local time as `2026-11-28T09:12`: a day and a time, or a time of today."""
    said = " ".join(text.replace("T", " ").split()) if re.match(r"[0-9]{4}-", text.strip()) else text.strip()
    try:
        return f"{today.isoformat()}T{clock(said)}"
    except BadMoment:
        pass
    words = said.split(" ")
    for first in range(1, len(words)):
        try:
            at = clock(" ".join(words[first:]))
        except BadMoment:
            continue
        return f"{day(' '.join(words[:first]))}T{at}"
    raise BadMoment(f"{text!r} is not a time: write it like 2026-11-28 14:00, or 14:00 for today.", text=text)


def zone(text: str) -> str:
    """The name of a time zone; of another word the zones that may be meant are named.

    They are in `facts["candidates"]` of what is raised.
    """
    said = text.strip()
    try:
        named_zone(said)
    except BadMoment:
        pass
    else:
        return said
    meant = zones_like(said)
    may = f" It may be {' or '.join(meant)}." if meant else ""
    raise BadMoment(
        f"Name the time zone by area and city, like America/Chicago: {text!r} is not one.{may}",
        code="unknown-zone",
        zone=text,
        candidates=list(meant),
    )


def zones_like(text: str) -> tuple[str, ...]:
    """Zones that a city or the letters beside a time may mean."""
    word = text.strip().replace(" ", "_")
    if known := _ABBREVIATED.get(word.upper()):
        return known
    if len(word) < 3:
        return ()
    names = _zone_names()
    cities = [each for each in names if each.rpartition("/")[2].lower() == word.lower()]
    begun = [each for each in names if each.rpartition("/")[2].lower().startswith(word.lower())]
    return tuple((cities or begun)[:_MOST_ZONES])


@cache
def _zone_names() -> tuple[str, ...]:
    wanted = re.compile(r"(?:Africa|America|Asia|Atlantic|Australia|Europe|Indian|Pacific)/.+")
    return tuple(sorted(each for each in available_timezones() if wanted.fullmatch(each)))


def _orders(found: re.Match[str]) -> list[str]:
    """The days that a date with strokes may mean."""
    year = found["year"] if len(found["year"]) == 4 else f"20{found['year']}"
    pairs = dict.fromkeys(((found["first"], found["second"]), (found["second"], found["first"])))
    days = []
    for month, number in pairs:
        try:
            days.append(date(int(year), int(month), int(number)).isoformat())
        except ValueError:
            continue
    return list(dict.fromkeys(days))


def _month(text: str, name: str) -> str:
    try:
        return f"{_MONTHS.index(name[:3].lower()) + 1:02d}"
    except ValueError:
        raise BadMoment(f"{text!r}: {name} is not a month.", code="bad-day", text=text) from None


def _dated(text: str, year: str, month: str, number: str) -> str:
    try:
        return date(int(year), int(month), int(number)).isoformat()
    except ValueError:
        raise BadMoment(f"{text!r}: no calendar has that day.", code="bad-day", text=text) from None
