"""The stretches of time in which nobody says how a sample was kept.

A holder says it with `held`; a custody seal says it for as long as it is whole, whoever carries the envelope. What is not
said is a stretch of the link it lies in, and that link's holder can still say it, late.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta

from bailee.domain.custody import Link, Sample
from bailee.domain.moments import Moment
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


def unstated(sample: Sample, since: datetime, until: datetime) -> Iterator[Unstated]:
    """Every such stretch between two instants, over all links of people (a carrier's link is kept by the seal)."""
    for link in sample.links:
        if link.by_carrier:
            continue
        begins, ends = max(since, link.since.instant), min(until, link.until.instant if link.until else until)
        for kept_since, kept_until in sorted(_stated(sample, link, ends)):
            if begins < min(kept_since, ends):
                yield Unstated(sample, link, begins, min(kept_since, ends))
            begins = max(begins, kept_until)
        if begins < ends:
            yield Unstated(sample, link, begins, ends)


def _stated(sample: Sample, link: Link, ends: datetime) -> Iterator[tuple[datetime, datetime]]:
    for each in sample.links:
        for keeping in each.keeping:
            if each is link or keeping.secured == "sealed":
                yield keeping.since.instant, _instant(keeping.until) or ends


def _instant(moment: Moment | None) -> datetime | None:
    return moment.instant if moment else None
