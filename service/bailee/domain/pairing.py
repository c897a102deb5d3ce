"""Which outdoor control stands beside which indoor sample, and how many real minutes apart."""

from __future__ import annotations

from bisect import bisect_left
from datetime import datetime, timedelta

from bailee.domain.custody import Form, Sample
from bailee.domain.moments import Moment
from bailee.frozen import frozen


@frozen
class Pair:
    """An indoor sample and the outdoor control nearest to it in time on the same form; `apart` between their
    starts.

    `same_day`: both began on one calendar day of the site.
    """

    indoor: Sample
    outdoor: Sample | None
    apart: timedelta | None
    same_day: bool = False


def of_kind(form: Form, kind: str) -> list[Sample]:
    """Live samples of one kind, in order of their start; air of a cavity is none of a room."""
    found = [(s.taken.started, s.number, s) for s in form.air if s.kind == kind]
    return [sample for _, _, sample in sorted(found, key=lambda each: each[:2])]


def pairs(form: Form) -> list[Pair]:
    """One pair for every live indoor sample. Instants are compared, never calendar dates."""
    outdoor: dict[datetime, Sample] = {}
    for sample in sorted(of_kind(form, "outdoor"), key=lambda each: (_start(each).instant, each.number)):
        outdoor.setdefault(_start(sample).instant, sample)
    instants = list(outdoor)
    found = []
    for indoor in of_kind(form, "indoor"):
        place = bisect_left(instants, _start(indoor).instant)
        beside = [outdoor[each] for each in instants[max(place - 1, 0) : place + 1]]
        nearest = min(beside, key=lambda each: (_apart(indoor, each), each.number), default=None)
        found.append(_paired(form, indoor, nearest) if nearest else Pair(indoor, None, None))
    return found


def _paired(form: Form, indoor: Sample, outdoor: Sample) -> Pair:
    first, second = _start(indoor), _start(outdoor)
    return Pair(indoor, outdoor, _apart(indoor, outdoor), form.day_of(first) == form.day_of(second))


def _apart(indoor: Sample, outdoor: Sample) -> timedelta:
    return abs(_start(indoor).instant - _start(outdoor).instant)


def _start(sample: Sample) -> Moment:
    assert sample.collected
    return sample.collected.started
