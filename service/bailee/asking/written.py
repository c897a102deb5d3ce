"""Numbers and measures as people write them, read without guessing: what may mean two things is asked back.

Readers give the text or number that a statement takes. Raises everywhere: `Malformed`, with what to write.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from decimal import Decimal
from typing import Any, Final

from bailee.domain import measures, numbers
from bailee.errors import Malformed

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
_SURELY_MINUTES: Final = 30
SURELY_SECONDS: Final = 120
"""A bare number between them is no usual run in either unit (common practice, no source)."""
_HALF_A_MINUTE_S: Final = 30
BY_HAND_S: Final = 5
"""Timers are set to whole or half minutes; a thumb on a stop watch is so many seconds off a whole one (common
practice, no source)."""
_MOST_DAYS: Final = 30


class BareRun(int):
    """Seconds of a run typed as a number without a unit that may as well be minutes, 31 to 119; or, typed as
    an answer, minutes and seconds without the colon.
    """

    __slots__ = ()


def point(text: str) -> str:
    """A point of the sketch, alone: `2 P2` is a room and a point."""
    said = text.strip()
    if not said or " " in said:
        raise Malformed(f"{text!r} is not a point: write it alone, like P2.", code="bad-point", text=text)
    return said


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


def hours(text: str) -> str:
    """A number of hours: `48`, or `1,5`."""
    return decimal(text, "number of hours", "48")


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


def degrees_by_unit(text: str) -> str:
    """The same, asked for its unit where a number alone is as likely cold in degrees Celsius as in
    Fahrenheit.
    """
    found = _DEGREES.fullmatch(text.strip())
    value = degrees_celsius(text)
    if found and not found["unit"] and _COLDEST <= Decimal(value) < _COOL:
        raise Malformed(
            f"{value} C or {value} F, which is {degrees_celsius(f'{value} F')} C? Write the unit.",
            code="no-unit",
            text=text,
        )
    return value


_COLDEST: Final = Decimal(-20)
_COOL: Final = Decimal(15)
"""Between them an envelope may be by either unit that was carried in winter (common practice, no source)."""


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
