"""What is surely a slip in what the office enters: boxes of cassettes, certificates, and the end of a key.

As in `slips`: no finding and no limit of the trade, but bounds beyond which a true value is next to
impossible (common practice, no source).
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any, Final

from bailee.asking import unit_slips
from bailee.asking.slip import Slip
from bailee.domain.acts.lot import OF_SURFACES
from bailee.domain.moments import Moment, last_day
from bailee.errors import BaileeError

LONG_PAST: Final = timedelta(days=365)
"""No maker ships a box that expired so long ago; somebody who types last year's number does."""
_TIMES_OFF: Final = 5
"""Some spore traps are made for a third or a fifth of the usual flow; a tenth of it is a decimal point."""
_CLOCKS_DIFFER: Final = timedelta(minutes=15)
"""So far a clock on a wall may go ahead of this device's, as CU-08 has it (common practice, no source)."""
_REGION: Final = re.compile(r"[A-Z]{2}(?:-[A-Z0-9]{1,3})?", re.IGNORECASE | re.ASCII)
"""A country, or a region of one: ISO 3166-2, from memory."""
_STORED: Final = ("coldest_c", "warmest_c")


def lot_received(said: Mapping[str, Any], today: date) -> Iterator[Slip]:
    """Slips of a box that arrives; `said` is the data of `lot_received`."""
    flow, usual = Decimal(str(said["nominal_flow"])), unit_slips.USUAL_FLOW
    is_of_air = said["cassette"] not in OF_SURFACES
    if is_of_air and not usual / _TIMES_OFF <= flow <= usual * _TIMES_OFF:
        yield Slip(
            "flow-far-off",
            "nominal_flow",
            f"{flow} L/min",
            f"The cassettes would be made for {flow} L/min; spore traps are usually made for"
            f" {usual.normalize():f} L/min.",
            "Check the decimal point and the unit: L/min, as the maker prints it.",
            next((f"{each.normalize():f}" for each in (flow * 10, flow / 10) if each == usual), ""),
        )
    yield from expiry(said.get("expiry"), today)
    yield from unit_slips.temperatures(said, *_STORED)


def lot_counted(said: Mapping[str, Any], received: int | None) -> Iterator[Slip]:
    """Slips of a count on the shelf; `received` is how many came in, where that is known."""
    remaining = said["remaining"]
    if received is not None and remaining > received:
        yield Slip(
            "more-than-received",
            "remaining",
            str(remaining),
            f"{remaining} would be left of a lot of which {received} were received.",
            "Count again, and check the lot number on the box.",
        )
    yield from unit_slips.temperatures(said, *_STORED)


def request_due(due: str | None, today: date) -> Iterator[Slip]:
    """A last day for a result that is over, or beyond every laboratory's turnaround."""
    if due and _is_over_or_far(due, today):
        yield Slip(
            "due-far-off",
            "due",
            due,
            f"The result would be due on {due}, and today is {today}.",
            "Check the month and the year.",
        )


def planned_day(visit: str | None, today: date) -> Iterator[Slip]:
    """A day for which something is prepared that is over, or a year away."""
    if visit and _is_over_or_far(visit, today):
        yield Slip(
            "planned-day-far-off",
            "visit",
            visit,
            f"The visit would be on {visit}, and today is {today}.",
            "Check the day, the month and the year.",
        )


def _is_over_or_far(day: str, today: date) -> bool:
    return not timedelta(0) <= date.fromisoformat(day) - today <= LONG_PAST


def days_swapped(first: str | None, last: str | None, field: str) -> Iterator[Slip]:
    """A last day before the first one: of a certificate, or of a training."""
    if first and last and last < first:
        yield Slip(
            "days-swapped",
            field,
            last,
            f"The last day it counts would be {last}, and it begins on {first}: the two are"
            " swapped, or one has a wrong year.",
            "Give the later day as the last one.",
        )


def expiry(said: str | None, today: date, field: str = "expiry") -> Iterator[Slip]:
    """Slips of the expiration date of a box, as it arrives or as it is corrected."""
    try:
        last = last_day(said) if said else None
    except BaileeError:
        return  # whoever reads the statement says what is wrong with it
    if last and today - last > LONG_PAST:
        yield Slip(
            "long-expired",
            field,
            str(said),
            f"The box would have expired on {last.isoformat()}, {(today - last).days} days ago.",
            "Read the date on the box again: is it another year, or the day it was made?",
        )


def not_yet(since: Moment, now: datetime) -> Iterator[Slip]:
    """A key that would be lost later than now: what its finder signs until then would stand."""
    if since.instant > now + _CLOCKS_DIFFER:
        yield Slip(
            "not-yet",
            "at",
            since.text(),
            f"The key would end from {since.text()} on, which has not come yet.",
            "Give the time of the loss; without --at it is now.",
        )


def no_region(jurisdictions: Sequence[str]) -> Iterator[Slip]:
    """A jurisdiction that is no code as forms have it: no visit would ever be found to lie in it."""
    for each in jurisdictions:
        if not _REGION.fullmatch(each):
            yield Slip(
                "no-region",
                "jurisdictions",
                each,
                f"{each} is no code of a country or region, and no visit would be found to lie there.",
                "Write the code of ISO 3166-2, like US-TX.",
            )


def beyond_the_newest(last_good: int, highest: int | None) -> Iterator[Slip]:
    """A last good number that the ledger has not seen: what a finder signs up to it would stand."""
    if highest is not None and last_good > highest:
        yield Slip(
            "beyond-the-newest",
            "last_good_seq",
            str(last_good),
            f"The newest number that the ledger has of this key is {highest}: up to {last_good}, whatever"
            " another person signs with it would stand.",
            "Give the last number that is certainly theirs; a higher one only for entries that were signed"
            " without a network and are still to be sent.",
            str(highest),
        )


def only_root(kid: str, org: str) -> Slip:
    """The end of the last key that may enroll and end keys."""
    return Slip(
        "only-root",
        "kid",
        kid,
        f"This is the only root key of {org}, and there is no recovery key: no person can be enrolled and no"
        " key ended any more.",
        "Enroll a second root first.",
    )
