"""A short list of places as people write it, for `sampling_plan`: TOML or JSON of the same shape.

    visit_h = 5            # hours the visit will take
    indoor = 4             # at most so many places indoors; left out: every place with a sign, and a reference
    blanks = 1
    duplicates = 0

    [[places]]
    name = "main bedroom"
    complaint = true
    hours_a_day = 8

Of a place also: `visible_growth`, `active_leak`, `past_moisture`, `musty_odour` (true or false), `space` (conditioned, attic,
crawl_space, garage, wall_cavity, other) and `reason` to sample in a space that is not conditioned.
"""

from __future__ import annotations

import json
import tomllib
from dataclasses import field
from decimal import Decimal
from typing import Annotated, Any, Final

from bailee.domain.facts import Facts, Reads, between, sized
from bailee.domain.fields import decimal_of
from bailee.domain.form_acts import Space
from bailee.domain.sampling_plan import Place, Reason, Wishes
from bailee.errors import BadFacts, Malformed

MOST_PLACES: Final = 200


def _hours(value: Any) -> Decimal:
    """Whole numbers, decimals, and decimals as text; true is no number."""
    if type(value) is int or (isinstance(value, Decimal) and value.is_finite()):
        return Decimal(value)
    if isinstance(value, str):
        return decimal_of(value)
    raise Malformed("write a number")


Hours = Annotated[Decimal, Reads(_hours), between(0, 24, "hours")]
Few = Annotated[int, between(0, 100)]


class _Place(Facts, closed=True):
    name: Annotated[str, sized(1, 80)]
    visible_growth: bool = False
    active_leak: bool = False
    past_moisture: bool = False
    complaint: bool = False
    musty_odour: bool = False
    hours_a_day: Hours = Decimal(0)
    space: Space = "conditioned"
    reason: Reason | None = None


class _List(Facts, closed=True):
    indoor: Annotated[int, between(1, 100)] | None = None
    visit_h: Annotated[Decimal, Reads(_hours), between(0, 240, "hours")] | None = None
    blanks: Few = 0
    duplicates: Few = 0
    places: Annotated[list[_Place], sized(0, MOST_PLACES, "places")] = field(default_factory=list)


def read(text: str) -> tuple[list[Place], Wishes]:
    """The places and what is wanted beyond the thresholds. Raises `Malformed`, code `bad-places`, with every fault."""
    data = _parse(text)
    if not isinstance(data, dict):
        raise Malformed("Write the list of places as an object with the member places.", code="bad-places")
    try:
        shape = _List.read(data)
    except BadFacts as error:
        errors = error.facts["errors"]
        listed = "; ".join(f"{_spoken(fault['at'])}: {fault['says']}" for fault in errors)
        raise Malformed(f"Correct the list of places: {listed}.", code="bad-places", errors=errors) from error
    wishes = Wishes(shape.indoor, shape.visit_h, shape.blanks, shape.duplicates)
    return [Place(**vars(each)) for each in shape.places], wishes


def _parse(text: str) -> Any:
    try:
        if text.lstrip().startswith("{"):
            return json.loads(text, parse_float=Decimal)
        return tomllib.loads(text, parse_float=Decimal)
    except (ValueError, RecursionError, ArithmeticError) as error:
        raise Malformed(
            f"The list of places is neither TOML nor JSON: {error}.", code="bad-places"
        ) from error


def _spoken(at: str) -> str:
    """`/places/1/reason` as `place 2, reason`."""
    steps = at.split("/")[1:]
    if len(steps) > 1 and steps[0] == "places":
        return ", ".join([f"place {int(steps[1]) + 1}", *steps[2:]])
    return steps[-1] if steps and steps[-1] else "the list"
