"""A calendar as people write it: TOML with opening hours and closed days, for a laboratory, a carrier, or the
own office.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from datetime import date, time
from typing import Any, Final, Literal

from bailee.domain.opening_hours.calendars import FEDERAL, WEEKDAYS, Calendar
from bailee.domain.policy_file import line_number, line_of
from bailee.errors import Malformed

Which = Literal["lab", "office", "carrier"]

_OF: Final[Mapping[Which, str]] = {
    "lab": (
        "When the laboratory's dock is open. Shipments are planned by it: an envelope that comes when it is"
        " closed waits outside."
    ),
    "office": "When your own office is open, so that an envelope can be shipped.",
    "carrier": (
        "On which days the carrier collects and delivers envelopes. Its hours do not matter: a weekday that"
        " has some is a working day."
    ),
}
_HOURS: Final[Mapping[Which, str]] = {"lab": "08:00-17:00", "office": "08:00-17:00", "carrier": "00:00-24:00"}
_INDEX: Final = re.compile(r"[0-9]{1,9}", re.ASCII)
_TIMES: Final[tuple[str, ...]] = ("cutoff", "delivery")


def write(which: Which, calendar: Mapping[str, Any], more: Mapping[str, str | None] | None = None) -> str:
    """A file that `read` reads to the same calendar.

    `more`: of a carrier its name, `cutoff` and `delivery`.
    """
    lines = [
        f"# {_OF[which]}",
        "# Times are those of the clocks in the zone.",
        "",
    ]
    lines += [f'{name} = "{value}"' for name, value in (more or {}).items() if value]
    closed = ", ".join(f'"{item}"' for item in calendar["closed"])
    lines += [
        f'zone = "{calendar["zone"]}"',
        "# The years for which the closed days below are complete. In any other year the rules warn (SH-12).",
        f"years = {list(calendar['years'])}",
        (
            f"# Closed days. {FEDERAL} means the federal holidays (5 U.S.C. 6103) in those years. They bind"
            " federal offices only:"
        ),
        "# leave it out, or add the days on which this house is closed.",
        f"closed = [{closed}]",
        "",
        (
            "# One or more spans a day, in order; 24:00 is the midnight that ends it. A weekday that is left"
            " out is closed."
        ),
        "[hours]",
        *(f"{day} = {_strings(spans)}" for day, spans in calendar["hours"].items()),
    ]
    return "\n".join(lines) + "\n"


def example(which: Which, year: int) -> str:
    """A file to begin with: Monday to Friday and the federal days of this year and the next, which is
    nobody's promise.
    """
    hours = {day: [_HOURS[which]] for day in WEEKDAYS[:5]}
    calendar = {"zone": "America/Chicago", "years": [year, year + 1], "closed": [FEDERAL], "hours": hours}
    carrier = {"carrier": "acorn-freight", "cutoff": "17:00", "delivery": "10:30"}
    return write(which, calendar, carrier if which == "carrier" else None)


def read(which: Which, text: str) -> dict[str, Any]:
    """The data of `calendar_set`.

    Raises `Malformed`, code `bad-calendar`, with every fault and its line in `facts["errors"]`.
    """
    try:
        values = {name: _plain(value) for name, value in tomllib.loads(text).items()}
    except (ValueError, RecursionError) as error:
        raise _refusal([{"at": "file", "says": f"this is not TOML: {error}"}]) from error
    own: dict[str, Any] = {name: values.pop(name) for name in ("carrier", *_TIMES) if name in values}
    errors = list(_misplaced(which, own, text))
    try:
        Calendar.from_data(values)
    except Malformed as error:
        errors += [
            {"at": _place(text, fault["at"]), "says": fault["says"]} for fault in error.facts["errors"]
        ]
    if errors:
        raise _refusal(sorted(errors, key=lambda fault: line_number(fault["at"])))
    return {"which": which, "calendar": values, **own}


def unlisted(calendar: Mapping[str, Any], year: int) -> list[int]:
    """Of this year and the next, those for which the calendar's closed days are not said to be complete
    (SH-12).
    """
    return [each for each in (year, year + 1) if each not in calendar["years"]]


def _misplaced(which: Which, own: Mapping[str, Any], text: str) -> Iterator[dict[str, str]]:
    for name, value in own.items():
        at = f"line {line_of(text, name)}, {name}"
        if which != "carrier":
            yield {"at": at, "says": "belongs into the calendar of a carrier only."}
        elif not isinstance(value, str):
            yield {
                "at": at,
                "says": 'write it as text, like "17:00".' if name in _TIMES else "write its name as text.",
            }
        elif name in _TIMES and not _is_clock(value):
            yield {"at": at, "says": 'write a time of day like "17:00".'}


def _place(text: str, pointer: str) -> str:
    steps = pointer.split("/")[1:]
    name = steps[1] if steps[0] == "hours" and len(steps) > 1 else steps[0]
    item = f", item {int(steps[-1]) + 1}" if _INDEX.fullmatch(steps[-1]) else ""
    line = line_of(text, name)
    return f"line {line}, {name}{item}" if line else name


def _refusal(errors: list[dict[str, str]]) -> Malformed:
    listed = "".join(f"\n  {fault['at']}: {fault['says']}" for fault in errors)
    return Malformed(f"Correct the calendar, nothing was signed:{listed}", code="bad-calendar", errors=errors)


def _is_clock(text: str) -> bool:
    try:
        return len(text) == len("17:00") and bool(time.fromisoformat(text).isoformat())
    except ValueError:
        return False


def _plain(value: Any) -> Any:
    """TOML's own dates and times of day as the text that is signed."""
    match value:
        case list():
            return [_plain(each) for each in value]
        case dict():
            return {name: _plain(each) for name, each in value.items()}
        case time() if not value.second and not value.microsecond:
            return f"{value:%H:%M}"
        case date() | time():
            return value.isoformat()
        case _:
            return value


def _strings(items: list[str]) -> str:
    return "[" + ", ".join(f'"{item}"' for item in items) + "]"
