"""What was surely read in another unit, or has its decimal point elsewhere: temperature, pressure, flow.

None of the bounds here is a limit of the trade; each lies where a true value is next to impossible (common
practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from decimal import Decimal, InvalidOperation
from typing import Any, Final

from bailee.asking.slip import Slip
from bailee.domain import measures

HOTTEST_C: Final = Decimal(45)
"""Hotter than the air where anybody samples or opens an envelope; mild in degrees Fahrenheit."""
_OTHER_UNITS: Final = (
    (Decimal(18), Decimal(33), "inHg"),
    (Decimal(60), Decimal(110), "kPa"),
)
"""What barometers show else, from the highest town to the deepest low and high."""
USUAL_FLOW: Final = Decimal(15)
"""L/min, where the lot names no flow of its own."""
_TIMES_OFF: Final = 4
"""So many times more or less than it should be is a decimal point, or another unit."""


def temperatures(said: Mapping[str, Any], *members: str) -> Iterator[Slip]:
    """Air temperatures in degrees Celsius that are surely degrees Fahrenheit."""
    for member in members:
        value = decimal_of(said.get(member))
        if value is not None and value > HOTTEST_C:
            meant = measures.rounded(measures.celsius(value), 1)
            yield Slip(
                "fahrenheit",
                member,
                f"{value} C",
                f"{value} \N{DEGREE SIGN}C is hotter than air gets: {value} \N{DEGREE SIGN}F is"
                f" {meant} \N{DEGREE SIGN}C.",
                "Give degrees Celsius, or write F after the number.",
                f"{value} F",
            )


def pressure(said: Mapping[str, Any], member: str = "pressure_hpa") -> Iterator[Slip]:
    """An air pressure in hectopascals that is surely inches of mercury, or kilopascals."""
    value = decimal_of(said.get(member))
    for lowest, highest, unit in _OTHER_UNITS:
        if value is not None and lowest <= value <= highest:
            meant = measures.rounded(value * measures.HECTOPASCALS_IN[unit.lower()], 1)
            yield Slip(
                "pressure-in-another-unit",
                member,
                f"{value} hPa",
                f"{value} hPa is thinner than any air that people breathe: {value} {unit} is {meant} hPa.",
                f"Give hPa, or write {unit} after the number.",
                str(meant),
            )


def flow_read(
    said: Mapping[str, Any], member: str, which: str, usual: Decimal = USUAL_FLOW
) -> Iterator[Slip]:
    """A flow in L/min that no cassette is made for: a decimal point, or another unit."""
    flow = decimal_of(said.get(member))
    if not flow or flow < 0 or usual / _TIMES_OFF <= flow <= usual * _TIMES_OFF:
        return
    liters = measures.rounded(flow * measures.CUBIC_FOOT_IN_LITERS, 1)
    meant = next(
        (f"{each.normalize():f}" for each in (flow * 10, flow / 10) if abs(each - usual) < usual / 3), ""
    )
    also = f" {flow} cfm are {liters} L/min." if abs(liters - usual) < usual / 3 else ""
    yield Slip(
        "flow-far-off",
        member,
        f"{flow} L/min",
        f"{which} would be {flow} L/min; such a cassette is made for {usual.normalize():f} L/min.{also}",
        "Check the decimal point and the unit: L/min.",
        str(liters) if also else meant,
    )


def decimal_of(value: object) -> Decimal | None:
    """A measure as it is said; None where it is none."""
    try:
        return None if value is None else Decimal(str(value))
    except InvalidOperation:
        return None
