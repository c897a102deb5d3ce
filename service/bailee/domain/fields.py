"""Shapes of single facts inside a statement, shared by all acts.

Decimals are text and stay exact; moments are RFC 3339 text with an offset; numbers are in their stored form, check character and
all. A fault is reported with the sentence of the error it came from.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date, time
from decimal import Decimal
from typing import Annotated, Any, Final, Literal, TypeVar

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, StringConstraints

from bailee.domain import numbers
from bailee.domain.moments import Moment, last_day, named_zone
from bailee.errors import BaileeError

T = TypeVar("T")

_YEARS: Final = range(1970, 2200)
"""Wide enough for a clock that lost its battery, narrow enough that no reckoning leaves the calendar."""


class Facts(BaseModel):
    """Base of everything inside `data`: strict, frozen, unknown members left alone in the signed bytes."""

    model_config = ConfigDict(
        strict=True, frozen=True, extra="ignore", defer_build=True, arbitrary_types_allowed=True
    )


def _saying(reader: Callable[[str], T]) -> Callable[[Any], T]:
    """`reader` for pydantic: text only, and our own sentence when it refuses."""

    def read(value: Any) -> T:
        if not isinstance(value, str):
            raise ValueError("must be text")  # noqa: TRY004 — pydantic collects ValueError
        try:
            return reader(value)
        except BaileeError as error:
            raise ValueError(error.sentence) from error

    return read


def _exactly(kind: numbers.Kind) -> Callable[[Any], str]:
    return _saying(lambda text: numbers.require(text, kind))


def _decimal(text: str) -> Decimal:
    whole, _, fraction = text.removeprefix("-").partition(".")
    if not (whole.isascii() and whole.isdigit() and len(whole) <= 6):
        raise ValueError('must be a decimal number written as text, like "15.0"')
    if "." in text and not (fraction.isascii() and fraction.isdigit() and len(fraction) <= 6):
        raise ValueError('must be a decimal number written as text, like "15.0"')
    return Decimal(text)


def _date(text: str) -> date:
    # last_day also reads months; fromisoformat alone would read week dates.
    if len(text) != 10 or (day := last_day(text)).year not in _YEARS:
        raise ValueError("must be a date like 2026-11-25")
    return day


def _expiry(text: str) -> str:
    if last_day(text).year not in _YEARS:
        raise ValueError("must be a date like 2027-03-31 or a month like 2027-03")
    return text


def _at(text: str) -> Moment:
    moment = Moment.parse(text)
    if moment.instant.year not in _YEARS:
        raise ValueError(f"check the year: it must lie between {_YEARS[0]} and {_YEARS[-1]}")
    return moment


def _each_once(numbers_named: list[str]) -> list[str]:
    twice = sorted({number for number in numbers_named if numbers_named.count(number) > 1})
    if twice:
        raise ValueError(f"names {', '.join(twice)} more than once")
    return numbers_named


def _clock(text: str) -> time:
    # fromisoformat alone would read T1700.
    if not re.fullmatch(r"([01][0-9]|2[0-3]):[0-5][0-9]", text):
        raise ValueError("must be a time of day like 17:00")
    return time.fromisoformat(text)


def _zone(name: str) -> str:
    named_zone(name)
    return name


def _seal(text: str) -> str:
    number = numbers.read_seal(text)
    if number != text:
        raise ValueError(f"must be written {number}")
    return text


SampleNumber = Annotated[str, BeforeValidator(_exactly("sample"))]
LotNumber = Annotated[str, BeforeValidator(_exactly("lot"))]
FormNumber = Annotated[str, BeforeValidator(_exactly("form"))]
EnvelopeNumber = Annotated[str, BeforeValidator(_exactly("envelope"))]
SealNumber = Annotated[str, BeforeValidator(_saying(_seal))]
SealAsRead = Annotated[str, StringConstraints(min_length=1, max_length=40)]
"""What the dock read on a seal: recorded as it stands, right or wrong."""

OrganisationId = Annotated[str, StringConstraints(pattern=r"^[a-z0-9](?:[a-z0-9-]{0,30}[a-z0-9])?$")]
Digest = Annotated[str, StringConstraints(pattern=r"^[A-Za-z0-9_-]{43}$")]
Tag = Annotated[str, StringConstraints(pattern=r"^[A-Za-z0-9][A-Za-z0-9 ._/#+:-]{0,59}$")]
"""A short identifier that is nobody's name: pump, meter, maker's lot, tracking number."""

RuleId = Annotated[str, StringConstraints(pattern=r"^[A-Z]{2}-[0-9]{2}$")]

decimal_of = _saying(_decimal)
"""Reads a decimal written as text; anything else is a ValueError for pydantic."""

Quantity = Annotated[Decimal, BeforeValidator(decimal_of), Field(ge=0)]
Celsius = Annotated[Decimal, BeforeValidator(decimal_of), Field(ge=-90, le=90)]
Hectopascals = Annotated[Decimal, BeforeValidator(decimal_of), Field(gt=0, le=1200)]
At = Annotated[Moment, BeforeValidator(_saying(_at))]
Day = Annotated[date, BeforeValidator(_saying(_date))]
Expiry = Annotated[str, BeforeValidator(_saying(_expiry))]
ClockTime = Annotated[time, BeforeValidator(_saying(_clock))]
Zone = Annotated[str, BeforeValidator(_saying(_zone))]
Count = Annotated[int, Field(ge=0, le=100_000)]
Seconds = Annotated[int, Field(ge=0, le=86_400)]

EachOnce = AfterValidator(_each_once)
Samples = Annotated[list[SampleNumber], Field(min_length=1, max_length=500), EachOnce]

Secured = Literal["possession", "view", "locked", "restricted", "sealed"]
"""The five ways to keep custody: on the person, in sight, locked away, in a restricted room, in a sealed container (S1)."""

Role = Literal["root", "admin", "quality", "inspector", "clerk", "media_keeper", "custodian", "analyst"]
