"""Which outdoor control stands beside which indoor sample, and how many real minutes apart."""

from __future__ import annotations

from datetime import timedelta

from bailee.domain.custody import Form, Sample
from bailee.frozen import frozen


@frozen
class Pair:
    """An indoor sample and the outdoor control nearest to it in time on the same form; `apart` between their starts.

    `same_day`: both began on one calendar day of the site.
    """

    indoor: Sample
    outdoor: Sample | None
    apart: timedelta | None
    same_day: bool = False


def of_kind(form: Form, kind: str) -> list[Sample]:
    """Live samples of one kind, in order of their start."""
    found = [
        (s.collected.started, s.number, s) for s in form.live if s.collected and s.collected.kind == kind
    ]
    return [sample for _, _, sample in sorted(found, key=lambda each: each[:2])]


def pairs(form: Form) -> list[Pair]:
    """One pair for every live indoor sample. Instants are compared, never calendar dates."""
    outdoor = of_kind(form, "outdoor")
    return [
        min(
            (paired(form, sample, candidate) for candidate in outdoor),
            key=lambda pair: (pair.apart, pair.outdoor.number if pair.outdoor else ""),
            default=Pair(sample, None, None),
        )
        for sample in of_kind(form, "indoor")
    ]


def paired(form: Form, indoor: Sample, outdoor: Sample) -> Pair:
    """These two side by side, nearest or not."""
    assert indoor.collected
    assert outdoor.collected
    first, second = indoor.collected.started, outdoor.collected.started
    return Pair(
        indoor, outdoor, abs(first.instant - second.instant), form.day_of(first) == form.day_of(second)
    )
