"""What the media keeper says about one box of cassettes: the acts on `lot/<number>`."""

from __future__ import annotations

from typing import Annotated, Final, Literal

from bailee.domain.facts import Facts, sized
from bailee.domain.fields import (
    Celsius,
    Count,
    Day,
    Digest,
    EachOnce,
    Expiry,
    Quantity,
    SampleNumber,
    Seconds,
    Tag,
)

MOST_AT_ONCE: Final = 200
"""Sample numbers in one statement."""


class LotReceived(Facts):
    """A lot arrives. `expiry` is a day, or a month meaning its last day; `null` means none is printed on it.

    `coldest_c` and `warmest_c`: what the thermometer of the place says it was kept at until now.
    """

    maker_lot: Tag
    cassette: Literal["slit", "circular"]
    expiry: Expiry | None
    count: Count
    nominal_flow: Quantity
    run_s: Seconds = 300
    stored: Tag | None = None
    coldest_c: Celsius | None = None
    warmest_c: Celsius | None = None


class Issued(Facts):
    """Sample numbers bound to cassettes of this lot, and to whom they were handed (a key's thumbprint), if
    known.
    """

    samples: Annotated[list[SampleNumber], sized(1, MOST_AT_ONCE), EachOnce]
    to: Digest | None = None
    visit: Day | None = None


class Recalled(Facts):
    """The lot must not be used, and its used samples are flagged. Private: note."""

    reason: Literal["maker", "storage", "quality", "other"]


class Released(Facts):
    """A recall or hold is lifted. Private: note."""

    reason: Literal["maker", "checked", "mistake", "other"]


class Counted(Facts):
    """Cassettes left on the shelf, and voided unused, when somebody counted.

    Temperatures since the last time.
    """

    remaining: Count
    voided: Count = 0
    coldest_c: Celsius | None = None
    warmest_c: Celsius | None = None


class ExpiryCorrected(Facts):
    """The expiry was entered as `old`; the box says `new`. Both stay visible. Private: note."""

    old: Expiry | None
    new: Expiry
    reason: Literal["typing", "misread", "wrong_field", "left_out", "other"]
