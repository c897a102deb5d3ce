"""What the media keeper says about one box of cassettes: the acts on `lot/<number>`."""

from __future__ import annotations

from collections.abc import Iterator
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


Kind = Literal["slit", "circular", "tape", "swab", "contact_plate", "container"]
OF_SURFACES: Final = frozenset({"tape", "swab", "contact_plate", "container"})
"""What no air is drawn through; a container holds bulk material or dust, and bears no expiration date."""


class LotReceived(Facts):
    """A lot arrives. `expiry` is a day, or a month meaning its last day; `null` means none is printed on it.

    `cassette` is the kind of cassette, or the medium for surfaces, whose `nominal_flow` is 0. `coldest_c` and
    `warmest_c`: what the thermometer of the place says it was kept at until now.
    """

    maker_lot: Tag
    cassette: Kind
    expiry: Expiry | None
    count: Count
    nominal_flow: Quantity
    run_s: Seconds = 300
    stored: Tag | None = None
    coldest_c: Celsius | None = None
    warmest_c: Celsius | None = None

    def contradictions(self) -> Iterator[str]:
        """A flow through what no air is drawn through."""
        if self.cassette in OF_SURFACES and self.nominal_flow:
            yield f"no air is drawn through {self.cassette}: write nominal_flow 0"


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
