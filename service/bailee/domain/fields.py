"""Shapes of single facts inside a statement, shared by all acts; names of the private ones beside it.

Decimals are text and stay exact; moments are RFC 3339 text with an offset; numbers are in their stored form,
check character and all. A fault is reported with the sentence of the error it came from.

Private fields say something of people and places, and can be erased. A statement may carry others than these,
which a newer program may know: they are kept, and shown as somebody's words, never where a reader looks for
what was found.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from datetime import date, time
from decimal import Decimal
from typing import Annotated, Any, Final, Literal, TypeVar

from bailee.domain import numbers
from bailee.domain.facts import Check, Reads, at_least, between, like, sized
from bailee.domain.moments import Moment, last_day, named_zone
from bailee.errors import NOT_KNOWN, Malformed

T = TypeVar("T")

TAG: Final = r"[A-Za-z0-9][A-Za-z0-9 ._/#+:-]{0,59}"
DIGEST: Final = r"[A-Za-z0-9_-]{43}"
DECIMAL: Final = r"-?[0-9]{1,6}(\.[0-9]{1,6})?"

PRIVATE_OF_A_VISIT: Final = ("client", "site", "contact", "question", "note")
"""Those of an opening: they stand at the head of a form, in this order."""

PRIVATE: Final = frozenset(
    {
        *PRIVATE_OF_A_VISIT,
        "place",
        "called_person",
        "answer",
        "courier_name",
        "courier_phone",
        "bill_to",
        "person",
        "device",
    }
)
"""All that this program writes."""

EDITION: Final = 1
"""The newest edition of the rule book that this program knows: its acts and their members, its thresholds
with their defaults, its rules.
"""

_YEARS: Final = range(1970, 2200)
"""Wide enough for a clock that lost its battery, narrow enough that no reckoning leaves the calendar."""


def _text(read: Callable[[str], T]) -> Callable[[Any], T]:
    """`read`, for text only."""

    def checked(value: Any) -> T:
        if not isinstance(value, str):
            raise Malformed("write text")
        return read(value)

    return checked


def _exactly(kind: numbers.Kind) -> Reads:
    return Reads(_text(lambda text: numbers.require(text, kind)))


def _decimal(text: str) -> Decimal:
    if not re.fullmatch(DECIMAL, text):
        raise Malformed('write a decimal number as text, like "15.0"')
    return Decimal(text)


def _date(text: str) -> date:
    # last_day also reads months; fromisoformat alone would read week dates.
    if len(text) != 10 or (day := last_day(text)).year not in _YEARS:
        raise Malformed("write a date like 2026-11-25")
    return day


def _expiry(text: str) -> str:
    if last_day(text).year not in _YEARS:
        raise Malformed("write a date like 2027-03-31 or a month like 2027-03")
    return text


def _at(text: str) -> Moment:
    moment = Moment.parse(text)
    if moment.instant.year not in _YEARS:
        raise Malformed(f"check the year: it must lie between {_YEARS[0]} and {_YEARS[-1]}")
    return moment


def named_twice(numbers_named: Sequence[str]) -> str:
    """The sentence about numbers that stand in a list more than once; empty when none does."""
    twice = sorted({number for number in numbers_named if numbers_named.count(number) > 1})
    return f"has {', '.join(twice)} more than once" if twice else ""


def _clock(text: str) -> time:
    # fromisoformat alone would read T1700.
    if not re.fullmatch(r"([01][0-9]|2[0-3]):[0-5][0-9]", text):
        raise Malformed("write a time of day like 17:00")
    return time.fromisoformat(text)


def _zone(name: str) -> str:
    named_zone(name)
    return name


def _edition(value: Any) -> int:
    if type(value) is not int or value < 1:
        raise Malformed("write the edition of the rule book as a whole number, 1 or more")
    if value > EDITION:
        raise Malformed(
            f"is edition {value} of the rule book, and this program knows edition {EDITION}", code=NOT_KNOWN
        )
    return value


def _seal(text: str) -> str:
    number = numbers.read_seal(text)
    if number != text:
        raise Malformed(f"must be written {number}")
    return text


SampleNumber = Annotated[str, _exactly("sample")]
LotNumber = Annotated[str, _exactly("lot")]
FormNumber = Annotated[str, _exactly("form")]
EnvelopeNumber = Annotated[str, _exactly("envelope")]
SealNumber = Annotated[str, Reads(_text(_seal))]
SealAsRead = Annotated[str, sized(1, 40)]
"""What the dock read on a seal: recorded as it stands, right or wrong."""

OrganizationId = Annotated[
    str,
    like(
        r"[a-z0-9](?:[a-z0-9-]{0,30}[a-z0-9])?",
        "an organization's identifier: lower-case letters, digits, hyphens",
    ),
]
Digest = Annotated[str, like(DIGEST, "a digest of 43 letters, digits, hyphens and underscores")]
Tag = Annotated[str, like(TAG, "1 to 60 letters, digits, spaces and . _ / # + : -, a letter or digit first")]
"""A short identifier that is nobody's name: pump, meter, maker's lot, tracking number."""

Edition = Annotated[int, Reads(_edition)]
"""An edition of the rule book that this program knows."""

RuleId = Annotated[str, like(r"[A-Z]{2}-[0-9]{2}", "a rule like OC-01")]

decimal_of = _text(_decimal)
"""Reads a decimal written as text. Raises `Malformed`."""

Quantity = Annotated[Decimal, Reads(decimal_of), at_least(0, "a number")]
Celsius = Annotated[Decimal, Reads(decimal_of), between(-90, 90, "degrees Celsius")]
Hectopascals = Annotated[
    Decimal,
    Reads(decimal_of),
    Check(lambda value: "" if 0 < value <= 1200 else "write hectopascals above 0 and up to 1200"),
]
Percent = Annotated[Decimal, Reads(decimal_of), between(0, 100, "per cent")]
At = Annotated[Moment, Reads(_text(_at))]
Day = Annotated[date, Reads(_text(_date))]
Expiry = Annotated[str, Reads(_text(_expiry))]
ClockTime = Annotated[time, Reads(_text(_clock))]
Zone = Annotated[str, Reads(_text(_zone))]
Count = Annotated[int, between(0, 100_000)]
Seconds = Annotated[int, between(0, 86_400)]

EachOnce = Check(named_twice)
Samples = Annotated[list[SampleNumber], sized(1, 500), EachOnce]

Secured = Literal["possession", "view", "locked", "restricted", "sealed"]
"""The five ways to keep custody: on the person, in sight, locked away, in a restricted room, in a sealed
container (S1)."""

Role = Literal["root", "admin", "quality", "inspector", "clerk", "media_keeper", "custodian", "analyst"]


def a_role(role: str) -> str:
    """A role as people read it, with its article: `an inspector`, `a media keeper`."""
    return f"{'an' if role[:1] in 'aeiou' else 'a'} {role.replace('_', ' ')}"
