"""Flow, volume, detection limit and units: exact decimals throughout, rounded half up only where a person
reads them.

A volume is computed from the flow read before and after and the seconds the pump really ran; it is never
typed.
"""

from __future__ import annotations

import re
from decimal import ROUND_HALF_UP, Decimal
from typing import Final

from bailee.errors import Malformed

# Exact by definition (international foot of 1959; NIST SP 811 appendix B, from memory).
FOOT_IN_METERS: Final = Decimal("0.3048")
INCH_IN_METERS: Final = Decimal("0.0254")
SQUARE_FOOT_IN_SQUARE_METERS: Final = Decimal("0.09290304")
CUBIC_FOOT_IN_LITERS: Final = Decimal("28.316846592")
"""Also one cubic foot per minute in liters per minute."""
MILE_PER_HOUR_IN_METERS_PER_SECOND: Final = Decimal("0.44704")
# The conventional value, not exact by definition (NIST SP 811 appendix B.8, from memory).
INCH_OF_MERCURY_IN_KILOPASCALS: Final = Decimal("3.386389")
HECTOPASCALS_IN: Final = {"kpa": Decimal(10), "inhg": 10 * INCH_OF_MERCURY_IN_KILOPASCALS}
"""By the unit that a barometer shows, in small letters."""

_SECONDS_PER_MINUTE: Final = 60
_LITERS_PER_CUBIC_METER: Final = 1000
_NUMBER = r"[0-9]{1,6}(?:\.[0-9]{1,6}|,[0-9]{1,2})?"
_FEET = "(?:ft|feet|foot|['\N{RIGHT SINGLE QUOTATION MARK}\N{PRIME}])\\.?"
_INCHES = '(?:in|inch|inches|["\N{RIGHT DOUBLE QUOTATION MARK}\N{DOUBLE PRIME}])\\.?'
_LENGTH = (
    rf"(?P<metric>{_NUMBER}) *(?:(?P<centi>cm|centimet(?:er|re)s?)|m|met(?:er|re)s?)"
    rf"|(?P<feet>{_NUMBER}) *{_FEET}(?: *(?P<odd_inches>{_NUMBER}) *(?:{_INCHES})?)?"
    rf"|(?P<inches>{_NUMBER}) *{_INCHES}"
)


def rounded(value: Decimal, places: int) -> Decimal:
    """Return the value to so many decimal places, halves away from zero: 73.125 is 73.13, -5.335 is -5.34."""
    return value.quantize(Decimal(1).scaleb(-places), rounding=ROUND_HALF_UP)


def rounded_beside(value: Decimal, limit: Decimal, places: int) -> Decimal:
    """The same, to as many places more as it takes to stay on its side of the limit: of 14.95 and 15.0 to
    one place 14.95. A value that is the limit stays it.
    """
    for more in range(places, places + _MOST_PLACES):
        if (shown := rounded(value, more)) == value:
            return shown
        if shown != limit and (shown < limit) == (value < limit):
            return shown
    return value


_MOST_PLACES: Final = 6


def mean_flow(before: Decimal, after: Decimal) -> Decimal:
    """Return the mean of the flows read before and after a run, L/min; raises `Malformed` below zero."""
    _need(
        before >= 0 and after >= 0,
        "Read the flow again: it cannot be below zero.",
        before=before,
        after=after,
    )
    return (before + after) / 2


def volume_liters(flow_l_min: Decimal, run_s: Decimal) -> Decimal:
    """Return the liters drawn at a mean flow in so many actual seconds; raises `Malformed` below zero."""
    _need(
        flow_l_min >= 0 and run_s >= 0,
        "Check the flow and the run time: neither can be below zero.",
        flow_l_min=flow_l_min,
        run_s=run_s,
    )
    return flow_l_min * run_s / _SECONDS_PER_MINUTE


def drift_percent(before: Decimal, after: Decimal) -> Decimal:
    """Return the signed change of the flow in percent of the reading before.

    Raises `Malformed` unless before > 0.
    """
    _need(before > 0, "Read the flow before the run again: it must be above zero.", before=before)
    _need(after >= 0, "Read the flow after the run again: it cannot be below zero.", after=after)
    return (after - before) * 100 / before


def detection_limit(volume_l: Decimal, fraction: Decimal) -> Decimal | None:
    """Return the concentration that one counted structure stands for, fs/m³; none for a blank, which drew no
    air.

    `fraction` is the part of the trace that was read, above 0 up to 1. Raises `Malformed` outside that, or
    for a volume below zero.
    """
    return concentration(1, volume_l, fraction)


def concentration(raw: int, volume_l: Decimal, fraction: Decimal) -> Decimal | None:
    """Return fungal structures per cubic meter, exact; none for a blank.

    Raises `Malformed` as `detection_limit` does.

    The raw count is never multiplied by a rounded limit: 7 structures in 75 L are 93 fs/m³, not 7 x 13 = 91.
    """
    _need(raw >= 0, "Check the raw count: it cannot be below zero.", raw=raw)
    _need(volume_l >= 0, "Check the volume: it cannot be below zero.", volume_l=volume_l)
    _need(0 < fraction <= 1, "Give the part of the trace that was read, above 0 up to 1.", fraction=fraction)
    if volume_l == 0:
        return None
    return raw * _LITERS_PER_CUBIC_METER / (volume_l * fraction)


def rotameter_factor(
    calibrated_pressure: Decimal,
    used_pressure: Decimal,
    calibrated_kelvin: Decimal,
    used_kelvin: Decimal,
) -> Decimal:
    """Return what an indicated rotameter flow is multiplied by away from its calibration conditions.

    The textbook square root of the density ratio, from memory; pressures in one unit, temperatures in kelvin.
    Raises `Malformed` unless all four are above zero.
    """
    given = {
        "calibrated_pressure": calibrated_pressure,
        "used_pressure": used_pressure,
        "calibrated_kelvin": calibrated_kelvin,
        "used_kelvin": used_kelvin,
    }
    _need(
        all(value > 0 for value in given.values()),
        "Check the pressures and temperatures: all must be above zero.",
        **given,
    )
    return (calibrated_pressure * used_kelvin / (used_pressure * calibrated_kelvin)).sqrt()


def celsius(fahrenheit: Decimal) -> Decimal:
    """Return degrees Celsius for degrees Fahrenheit."""
    return (fahrenheit - 32) * 5 / 9


def feet_text(meters: Decimal) -> str:
    """Return a length in feet for a person, to 0.01 ft without trailing zeros: 0.9144 m is `3 ft`."""
    return f"{rounded(meters / FOOT_IN_METERS, 2).normalize():f} ft"


def warmth_text(celsius: Decimal) -> str:
    """Return a temperature in both units, as it was read and to whole degrees: -10 is `-10 °C (14 °F)`."""
    return f"{celsius} °C ({rounded(celsius * 9 / 5 + 32, 0) + 0:f} °F)"


def pressure_text(hectopascals: Decimal) -> str:
    """Return a pressure in both units, as it was read and to 0.01 inHg: `1013.25 hPa (29.92 inHg)`."""
    return f"{hectopascals} hPa ({rounded(hectopascals / 10 / INCH_OF_MERCURY_IN_KILOPASCALS, 2):f} inHg)"


def length_text(meters: Decimal) -> str:
    """Return a length in meters to the centimeter and in feet: 1.2192 m is `1.22 m (4 ft)`."""
    return f"{rounded(meters, 2).normalize():f} m ({feet_text(meters)})"


def parse_length(text: str) -> Decimal:
    """Return the meters of a length as people write it: `0.91 m`, `91 cm`, `3 ft`, `36 in`, `5 ft 6 in`,
    `5'6"`, with a point or a comma.

    Raises `Malformed`, code `bad-length`; a number without a unit is refused, never guessed.
    """
    found = re.fullmatch(_LENGTH, text.strip(), re.IGNORECASE)  # compiled on first use: few programs need it
    if found is None:
        raise Malformed(
            "Write the length with its unit, like 3 ft, 36 in or 0.91 m.", code="bad-length", text=text
        )
    metric, feet, inches = (
        Decimal((each or "0").replace(",", "."))
        for each in (found["metric"], found["feet"], found["inches"] or found["odd_inches"])
    )
    if found["metric"]:
        return metric * (Decimal("0.01") if found["centi"] else 1)
    return feet * FOOT_IN_METERS + inches * INCH_IN_METERS


def _need(condition: bool, sentence: str, **facts: Decimal | int) -> None:  # noqa: FBT001 - an assertion with words
    if not condition:
        raise Malformed(sentence, code="bad-measure", **{name: str(value) for name, value in facts.items()})
