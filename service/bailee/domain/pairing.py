"""Which outdoor control stands beside which indoor sample, and how many real minutes apart."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

from bailee.domain.custody import Form, Sample


@dataclass(frozen=True, slots=True)
class Pair:
    """An indoor sample and the outdoor control nearest to it in time on the same form; `apart` between their starts."""

    indoor: Sample
    outdoor: Sample | None
    apart: timedelta | None

    @property
    def same_day(self) -> bool:
        """Both began on one local date."""
        indoor, outdoor = self.indoor.collected, self.outdoor.collected if self.outdoor else None
        return bool(indoor and outdoor and indoor.started.local_date == outdoor.started.local_date)


def of_kind(form: Form, kind: str) -> list[Sample]:
    """Live samples of one kind, in order of their start."""
    found = [
        (s.collected.started, s.number, s) for s in form.live if s.collected and s.collected.kind == kind
    ]
    return [sample for _, _, sample in sorted(found, key=lambda each: each[:2])]


def pairs(form: Form) -> list[Pair]:
    """One pair for every live indoor sample. Instants are compared, never calendar dates."""
    outdoor = of_kind(form, "outdoor")
    return [_nearest(sample, outdoor) for sample in of_kind(form, "indoor")]


def _nearest(indoor: Sample, outdoor: list[Sample]) -> Pair:
    if not outdoor:
        return Pair(indoor, None, None)
    apart, _, nearest = min((_apart(indoor, candidate), candidate.number, candidate) for candidate in outdoor)
    return Pair(indoor, nearest, apart)


def _apart(first: Sample, second: Sample) -> timedelta:
    assert first.collected
    assert second.collected
    return abs(first.collected.started.instant - second.collected.started.instant)
