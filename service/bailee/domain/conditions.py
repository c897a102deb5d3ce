"""Which reading of the air on site speaks for which sample, and when rain had ended before it."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Final

from bailee.domain.acts.form import ConditionsRead
from bailee.domain.custody import Form, Said, Sample

WHERE: Final = {"indoor": "indoors", "outdoor": "outdoors"}
"""By kind of sample, where its air was; a blank draws none."""

Ends = Sequence[tuple[datetime, Said]]
"""When rain had ended, by which reading, in order."""

_ANY: Final = ""


def readings(form: Form) -> Mapping[tuple[str, str | None], Sequence[ConditionsRead]]:
    """By where and unit, what was read there, in order; under no unit at all also everything on that side."""
    found: dict[tuple[str, str | None], list[ConditionsRead]] = {}
    for body in sorted(
        (said.of(ConditionsRead) for said in form.conditions), key=lambda each: each.at.instant
    ):
        for unit in (body.unit, _ANY):
            found.setdefault((body.where, unit), []).append(body)
    return found


def of_sample(
    found: Mapping[tuple[str, str | None], Sequence[ConditionsRead]], sample: Sample
) -> ConditionsRead | None:
    """The reading nearest in time to its start, in its unit if that was said; None without any.

    One of no unit speaks for all of them.
    """
    body = sample.collected
    if body is None:
        return None
    where, start = WHERE.get(body.kind, _ANY), body.started.instant
    beside: list[ConditionsRead] = []
    for unit in (body.unit, None) if body.unit else (_ANY,):
        there = found.get((where, unit), ())
        place = bisect_left(there, start, key=lambda each: each.at.instant)
        beside += there[max(place - 1, 0) : place + 1]
    return min(beside, key=lambda each: abs(each.at.instant - start), default=None)


def rain_ends(form: Form) -> Ends:
    """When rain had ended by each reading that says so."""
    found = []
    for said in form.conditions:
        body = said.of(ConditionsRead)
        if body.rain_ended_h is not None:
            ended = body.at.moved(-timedelta(hours=float(body.rain_ended_h)))
            found.append((ended.instant, said))
    return sorted(found, key=lambda each: each[0])


def last_rain(ends: Ends, before: datetime) -> tuple[timedelta, Said] | None:
    """How long before a moment rain had ended the last time, and which reading says so."""
    place = bisect_right(ends, before, key=lambda each: each[0])
    return (before - ends[place - 1][0], ends[place - 1][1]) if place else None
