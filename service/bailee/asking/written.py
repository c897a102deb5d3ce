"""Numbers and times as people write them, read without guessing: what may mean two things is asked back.

Readers give the text or number that a statement takes. Raises everywhere: `Malformed` or `BadMoment`, with
what to write.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from functools import cache
from typing import Any, Final
from zoneinfo import available_timezones

from bailee.domain import measures, moments, numbers
from bailee.domain.moments import named_zone
from bailee.errors import BadMoment, BaileeError, Malformed

_MONTHS: Final = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_NUMBER: Final = r"-?[0-9]{1,6}(?:[.,][0-9]{1,6})?"
_FLOW: Final = re.compile(rf"(?P<number>{_NUMBER})\s*(?P<unit>l/min|lpm|l|cfm|ft3/min|)", re.IGNORECASE)
_DEGREES: Final = re.compile(
    rf"(?P<number>{_NUMBER})\s*(?:\N{{DEGREE SIGN}}|deg(?:rees)?)?\s*(?P<unit>[cf]|)", re.IGNORECASE
)
_PRESSURE: Final = re.compile(
    rf"(?P<number>{_NUMBER})\s*(?P<unit>hpa|mbar|mb|kpa|in\.?\s*hg|)", re.IGNORECASE
)
_RUN: Final = re.compile(
    r"(?P<clock>[0-9]{1,3}):(?P<rest>[0-5][0-9])"
    r"|(?P<bare>[0-9]{1,5})"
    r"|(?:(?P<minutes>[0-9]{1,3}(?:[.,][0-9]{1,2})?)\s*(?:m|min|mins|minutes?))?"
    r"\s*(?:(?P<seconds>[0-9]{1,5})\s*(?:s|sec|secs|seconds?))?",
    re.IGNORECASE,
)
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
_SURELY_MINUTES: Final = 30
SURELY_SECONDS: Final = 120
"""A bare number between them is no usual run in either unit (common practice, no source)."""
_HALF_A_MINUTE_S: Final = 30
BY_HAND_S: Final = 5
"""Timers are set to whole or half minutes; a thumb on a stop watch is so many seconds off a whole one (common
practice, no source)."""
_MOST_ZONES: Final = 6
_MOST_DAYS: Final = 30


class BareRun(int):
    """Seconds of a run typed as a number without a unit that may as well be minutes, 31 to 119; or, typed as
    an answer, minutes and seconds without the colon.
    """

    __slots__ = ()


def decimal(text: str, what: str = "number", example: str = "14.8") -> str:
    """A number with a point or a comma: `14,8` is 14.8. Three digits after a comma may be thousands, and are
    asked back.
    """
    said = text.strip()
    if not re.fullmatch(_NUMBER, said):
        raise Malformed(f"{text!r} is not a {what}: write it like {example}.", code="bad-measure", text=text)
    if re.search(r",[0-9]{3}$", said):
        either = f"{said.replace(',', '.')} or {said.replace(',', '')}"
        raise Malformed(
            f"{text!r}: is the comma a decimal point? Write {either}.",
            code="bad-measure",
            text=text,
        )
    return said.replace(",", ".")


def is_by_hand(text: str) -> bool:
    """Whether a number was surely typed: a scanner sends what the label holds, capitals without spaces."""
    said = text.strip()
    return bool(re.fullmatch(r"[0-9A-Za-z -]+", said)) and (said != said.upper() or " " in said)


def whole(text: str) -> int:
    """A count: a whole number, 0 or more."""
    if not re.fullmatch(r"[0-9]{1,6}", text.strip()):
        raise Malformed(
            f"{text!r} will not do: write a whole number of at least 0.", code="bad-measure", text=text
        )
    return int(text)


def days(text: str) -> int:
    """Working days on the way, 0 to 30."""
    found = whole(text)
    if found > _MOST_DAYS:
        raise Malformed(f"{text!r} will not do: write 0 to {_MOST_DAYS} days.", code="bad-measure", text=text)
    return found


def sample_number(text: str) -> str:
    """The number on the label of a cassette, spelled as it is recorded."""
    return numbers.read(text, "sample")


def form_number(text: str) -> str:
    """The number of a form, spelled as it is recorded."""
    return numbers.read(text, "form")


def seal_number(text: str) -> str:
    """The number printed on a custody seal, spelled as it is recorded."""
    return numbers.read_seal(text)


def flow(text: str) -> str:
    """A flow in L/min, with or without its unit; cfm is refused with what it is in L/min."""
    found = _FLOW.fullmatch(text.strip())
    if found is None:
        raise Malformed(f"{text!r} is not a flow: write L/min, like 14.8.", code="bad-measure", text=text)
    number = decimal(found["number"], "flow")
    if found["unit"].lower() in ("cfm", "ft3/min"):
        liters = measures.rounded(Decimal(number) * measures.CUBIC_FOOT_IN_LITERS, 2)
        raise Malformed(
            f"{text.strip()} is {liters} L/min. Flows are recorded as read, in L/min: is that what the meter"
            " shows?",
            code="other-unit",
            text=text,
            liters_per_minute=str(liters),
        )
    return number


def degrees_celsius(text: str) -> str:
    """A temperature: `20`, `20,5 C`, or `68 F`, which is 20."""
    found = _DEGREES.fullmatch(text.strip())
    if found is None:
        raise Malformed(
            f"{text!r} is not a temperature: write it like 20 C or 68 F.", code="bad-measure", text=text
        )
    number = decimal(found["number"], "temperature", "20 C")
    if found["unit"].lower() != "f":
        return number
    return f"{measures.rounded(measures.celsius(Decimal(number)), 1)}"


def hectopascals(text: str) -> str:
    """An air pressure: `1013`, `1013 hPa` or mbar, or `29.9 inHg` and `101.3 kPa`, which are 1012.5 and
    1013.0.
    """
    found = _PRESSURE.fullmatch(text.strip())
    if found is None:
        raise Malformed(
            f"{text!r} is not an air pressure: write it like 1013 hPa or 29.9 inHg.",
            code="bad-measure",
            text=text,
        )
    number = decimal(found["number"], "air pressure", "1013 hPa")
    each = measures.HECTOPASCALS_IN.get(re.sub(r"[\s.]", "", found["unit"].lower()))
    return f"{measures.rounded(Decimal(number) * each, 1)}" if each else number


def run(text: str, *, bare_minutes_to: int = 0) -> int:
    """Seconds of a run: `5:00`, `5 min`, `4 min 30 s`, `300 s`, `300`.

    A bare number is seconds; up to `bare_minutes_to` it is minutes, where it was asked for in minutes, and of
    one that may be either a person is asked which. One whose digits may be minutes and seconds is a
    `BareRun`.
    """
    said = text.strip()
    found = _RUN.fullmatch(said) if said else None
    if found is None:
        raise Malformed(
            f"{text!r} is not a run time: write 5:00, 5 min, or 300 s.", code="bad-run", text=text
        )
    if found["clock"]:
        return int(found["clock"]) * 60 + int(found["rest"])
    if found["bare"]:
        number = int(found["bare"])
        if number <= bare_minutes_to:
            return number * 60
        if bare_minutes_to and _SURELY_MINUTES < number < SURELY_SECONDS:
            raise Malformed(
                f"{number} minutes or {number} seconds? Type {number} min or {number} s.",
                code="which-unit",
                text=text,
            )
        return BareRun(number) if bare_minutes_to and _may_be_clock(number) else number
    minutes = Decimal((found["minutes"] or "0").replace(",", "."))
    return int(minutes * 60) + int(found["seconds"] or 0)


def _may_be_clock(number: int) -> bool:
    """Whether the digits of so many seconds may be minutes and seconds: 149, but not 300 or 199."""
    off = min(number % 60, -number % 60)
    return number >= SURELY_SECONDS and number % 100 < 60 and BY_HAND_S < off < _HALF_A_MINUTE_S


def run_as_typed(text: str) -> int:
    """The same, where nobody is asked: what may be minutes or seconds is a `BareRun`, and a slip."""
    found = run(text)
    is_bare = text.strip().isdecimal() and _SURELY_MINUTES < found < SURELY_SECONDS
    return BareRun(found) if is_bare else found


def as_signed(data: Mapping[str, Any]) -> dict[str, Any]:
    """Facts of an act whose slips have been looked for: a `BareRun` is the seconds it says."""
    return {name: int(each) if isinstance(each, BareRun) else each for name, each in data.items()}


def length(text: str) -> str:
    """Meters of a length with its unit, to the tenth of a millimeter."""
    return f"{measures.rounded(measures.parse_length(text), 4).normalize():f}"


def day(text: str) -> str:
    """A day as `2026-11-28`: written so, or with the month's name.

    `11/28/2026` is asked back: where people write both orders nobody can tell which is the month.
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
        raise BadMoment(
            f"{text!r}: which is the month? Write {' or '.join(_orders(found))}.",
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
    return days or ["it like 2026-11-28"]


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
