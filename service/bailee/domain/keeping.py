"""The stretches of time in which nobody says how a sample was kept.

A holder says it with `held`; a custody seal says it for as long as it is whole, whoever carries the envelope. What is not
said is a stretch of the link it lies in, and that link's holder can still say it, late.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, datetime, timedelta
from typing import Final

from bailee.domain.custody import Keeping, Link, Sample
from bailee.frozen import frozen


@frozen
class Unstated:
    """One stretch of one link without a stated way of keeping."""

    sample: Sample
    link: Link
    since: datetime
    until: datetime

    @property
    def length(self) -> timedelta:
        """How long it is."""
        return self.until - self.since


Stretches = Sequence[tuple[datetime, datetime]]


def under_seal(sample: Sample) -> Stretches:
    """When a custody seal kept it, whoever had it then."""
    return _joined(
        _stretch(keeping) for link in sample.links for keeping in link.keeping if keeping.secured == "sealed"
    )


def unstated(sample: Sample, sealed: Stretches, since: datetime, until: datetime) -> Iterator[Unstated]:
    """Every such stretch between two instants, over all links of people (a carrier's link is kept by the seal); `sealed`: `under_seal`."""
    for link in sample.links:
        if link.by_carrier:
            continue
        begins, ends = max(since, link.since.instant), min(until, link.until.instant if link.until else until)
        first = bisect_right(sealed, begins, key=lambda each: each[1])
        last = bisect_left(sealed, ends, key=lambda each: each[0])
        own = (_stretch(keeping) for keeping in link.keeping if keeping.secured != "sealed")
        for kept_since, kept_until in sorted([*sealed[first:last], *own]):
            if begins < min(kept_since, ends):
                yield Unstated(sample, link, begins, min(kept_since, ends))
            begins = max(begins, kept_until)
        if begins < ends:
            yield Unstated(sample, link, begins, ends)


def _stretch(keeping: Keeping) -> tuple[datetime, datetime]:
    """From when to when; without an end, until further notice."""
    return keeping.since.instant, keeping.until.instant if keeping.until else _OPEN


def _joined(stretches: Iterable[tuple[datetime, datetime]]) -> list[tuple[datetime, datetime]]:
    """The same time in stretches that do not touch, in order."""
    joined: list[tuple[datetime, datetime]] = []
    for since, until in sorted(stretches):
        if joined and since <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(joined[-1][1], until))
        elif since < until:
            joined.append((since, until))
    return joined


_OPEN: Final = datetime.max.replace(tzinfo=UTC)
