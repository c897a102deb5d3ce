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

import difflib
import json
import tomllib
from decimal import Decimal
from typing import Annotated, Any, Final, get_args

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError

from bailee.domain.fields import decimal_of
from bailee.domain.form_acts import Space
from bailee.domain.sampling_plan import Place, Reason, Wishes
from bailee.errors import Malformed

MOST_PLACES: Final = 200


def _hours(value: Any) -> Any:
    """Whole numbers, decimals and decimals as text; true is no number."""
    if isinstance(value, bool):
        raise ValueError("must be a number")  # noqa: TRY004 - pydantic collects ValueError
    return (
        Decimal(value) if isinstance(value, int) else decimal_of(value) if isinstance(value, str) else value
    )


Hours = Annotated[Decimal, BeforeValidator(_hours), Field(ge=0, le=24)]
Few = Annotated[int, Field(ge=0, le=100)]


class _Place(BaseModel):
    model_config = ConfigDict(strict=True, extra="forbid")

    name: Annotated[str, Field(min_length=1, max_length=80)]
    visible_growth: bool = False
    active_leak: bool = False
    past_moisture: bool = False
    complaint: bool = False
    musty_odour: bool = False
    hours_a_day: Hours = Decimal(0)
    space: Space = "conditioned"
    reason: Reason | None = None


class _List(BaseModel):
    model_config = ConfigDict(strict=True, extra="forbid")

    indoor: Annotated[int, Field(ge=1, le=100)] | None = None
    visit_h: Annotated[Decimal, BeforeValidator(_hours), Field(ge=0, le=240)] | None = None
    blanks: Few = 0
    duplicates: Few = 0
    places: Annotated[list[_Place], Field(max_length=MOST_PLACES)] = Field(default_factory=list)


_WANTED: Final[dict[str, str]] = {
    "name": "give the place a name of 1 to 80 characters",
    "hours_a_day": "write hours from 0 to 24",
    "visit_h": "write hours from 0 to 240",
    "indoor": "write a whole number from 1 to 100",
    "blanks": "write a whole number from 0 to 100",
    "duplicates": "write a whole number from 0 to 100",
    "space": f"write one of {', '.join(get_args(Space))}",
    "reason": f"write one of {', '.join(get_args(Reason))}",
    "places": f"write a list of at most {MOST_PLACES} places, each with a name",
}


def read(text: str) -> tuple[list[Place], Wishes]:
    """The places and what is wanted beyond the thresholds. Raises `Malformed`, code `bad-places`, with every fault."""
    try:
        shape = _List.model_validate(_parse(text))
    except ValidationError as error:
        errors = [
            {"at": "/".join(map(str, ("", *fault["loc"]))), "says": _says(fault["loc"], fault["type"])}
            for fault in error.errors(include_url=False, include_context=False, include_input=False)
        ]
        listed = "; ".join(f"{_spoken(fault['at'])}: {fault['says']}" for fault in errors)
        raise Malformed(f"Correct the list of places: {listed}.", code="bad-places", errors=errors) from error
    wishes = Wishes(shape.indoor, shape.visit_h, shape.blanks, shape.duplicates)
    return [Place(**dict(each)) for each in shape.places], wishes


def _parse(text: str) -> Any:
    try:
        if text.lstrip().startswith("{"):
            return json.loads(text, parse_float=Decimal)
        return tomllib.loads(text, parse_float=Decimal)
    except (ValueError, RecursionError, ArithmeticError) as error:
        raise Malformed(
            f"The list of places is neither TOML nor JSON: {error}.", code="bad-places"
        ) from error


def _says(at: tuple[int | str, ...], kind: str) -> str:
    name = str(at[-1]) if at else ""
    if kind == "extra_forbidden":
        known = _Place.model_fields if len(at) > 1 else _List.model_fields
        near = difflib.get_close_matches(name, known, 1)
        return "there is nothing of this name" + (f", did you mean {near[0]}?" if near else "")
    return _WANTED.get(name, "write true or false" if name in _Place.model_fields else _WANTED["places"])


def _spoken(at: str) -> str:
    """`/places/1/reason` as `place 2, reason`."""
    steps = at.split("/")[1:]
    if len(steps) > 1 and steps[0] == "places":
        return ", ".join([f"place {int(steps[1]) + 1}", *steps[2:]])
    return steps[-1] if steps and steps[-1] else "the list"
