"""Runs of the pump beside each other: time to walk between them, volumes a laboratory can use, a pump that stopped by itself."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from itertools import pairwise

from bailee.domain import measures, pairing
from bailee.domain.custody import Form, Sample
from bailee.domain.form_acts import Opened
from bailee.domain.moments import duration_words
from bailee.domain.numbers import grouped
from bailee.rules.case import Case
from bailee.rules.registry import Hit, rule


@rule(
    "PV-11", "No time to carry the pump to the next place", "warn", "media", "derived: a pump is carried from place to place",
    "Nothing to correct if it is so. If a pump or a time is wrong, its collector corrects it: `bailee correct SAMPLE "
    "--field pump --new … --reason typing` or `bailee correct SAMPLE --field started --new … --reason clock`.",
)  # fmt: skip
def no_time_to_walk(case: Case) -> Iterator[Hit]:
    """One pump began in another place fewer seconds after a run ended than it takes to walk; overlaps are PV-10."""
    asked = {sample.number for _, sample in case.samples()}
    for runs in _by_pump(case):
        for (_, before), (form, after) in pairwise(runs):
            pause, wanted = after.taken.started.instant - _end(before), case.policy(form).walk_s
            moved = _place(before) != _place(after)
            if (
                moved
                and {before.number, after.number} & asked
                and timedelta() <= pause < timedelta(seconds=wanted)
            ):
                yield Hit.on(
                    after,
                    f"{after.taken.pump} began {grouped(after.number)} {pause.total_seconds():.0f} s after it ended "
                    f"{grouped(before.number)} in another place; {wanted} s are wanted to carry it there.",
                    by=("walk_s",),
                )


@rule(
    "PV-12", "Volume outside the range of the method", "warn", "media",
    "common practice; the range depends on the volume: ASTM D7391-20, scope",
    "Ask the laboratory whether it reads such a trace; while you are on site, take the sample again. A run or a flow that "
    "was typed wrongly: `bailee correct SAMPLE --field run_s --new … --reason typing`.",
    afterwards="Ask the laboratory whether it reads such a trace. A run or a flow that was typed wrongly: `bailee correct SAMPLE "
    "--field run_s --new … --reason typing`.",
)  # fmt: skip
def volume_range(case: Case) -> Iterator[Hit]:
    """A volume below or above the wanted ones, both included; no air at all is BD-04."""
    for form, sample in case.samples():
        volume, policy = sample.taken.volume_l, case.policy(form)
        low, high = policy.volume_min_l, policy.volume_max_l
        if volume and not low <= volume <= high:
            yield Hit.on(
                sample,
                f"{grouped(sample.number)} drew {measures.rounded(volume, 1)} L; {low} to {high} L are wanted.",
                by=("volume_min_l" if volume < low else "volume_max_l",),
            )


@rule(
    "PV-13", "Volumes indoors and outdoors differ", "note", "comparison", "derived: the detection limit follows from the volume",
    "Nothing to correct: give the detection limit beside each result.",
)  # fmt: skip
def volumes_differ(case: Case) -> Iterator[Hit]:
    """Indoor sample and outdoor control, in per cent of the indoor volume, strictly more than the limit."""
    for form, in_question in case.visits():
        asked, limit = {sample.number for sample in in_question}, case.policy(form).volume_gap_pct
        for pair in pairing.pairs(form):
            inside = pair.indoor.taken.volume_l
            outside = pair.outdoor.taken.volume_l if pair.outdoor else None
            if (
                pair.indoor.number in asked
                and pair.outdoor
                and inside
                and outside
                and abs(inside - outside) * 100 > limit * inside
            ):
                yield Hit.on(
                    pair.indoor,
                    f"{grouped(pair.indoor.number)} drew {measures.rounded(inside, 1)} L and its outdoor control "
                    f"{grouped(pair.outdoor.number)} {measures.rounded(outside, 1)} L, "
                    f"{measures.rounded(abs(inside - outside) * 100 / inside, 1)} % apart; more than {limit} % is noted.",
                    by=("volume_gap_pct",),
                )


@rule(
    "PV-14", "Pump stopped by itself", "warn", "media",
    "EPA Region 6, custody guidelines for air canisters (write the real elapsed time); common practice",
    "Nothing to correct if the seconds are the real ones: `bailee correct SAMPLE --field run_s --new … --reason typing` "
    "where they are not. Charge or service the pump before its next run.",
)  # fmt: skip
def stopped(case: Case) -> Iterator[Hit]:
    """The collector says that the pump stopped on its own, and why."""
    for _, sample in case.samples():
        body = sample.taken
        if body.pump_stop:
            which = body.pump or "The pump"
            yield Hit.on(
                sample,
                f"{which} stopped by itself during {grouped(sample.number)} ({body.pump_stop}), after "
                f"{duration_words(timedelta(seconds=body.run_s))}.",
            )


def _by_pump(case: Case) -> Iterator[list[tuple[Form, Sample]]]:
    """Runs of each firm's pump in order of their start."""
    runs: dict[tuple[str, str], list[tuple[Form, Sample]]] = {}
    for form in case.forms.values():
        for sample in form.live:
            if sample.taken.pump and sample.taken.run_s:
                firm = form.opened.of(Opened).parties.firm
                runs.setdefault((firm, sample.taken.pump), []).append((form, sample))
    for found in runs.values():
        yield sorted(found, key=lambda each: (each[1].taken.started.instant, each[1].number))


def _end(sample: Sample) -> datetime:
    return sample.taken.started.instant + timedelta(seconds=sample.taken.run_s)


def _place(sample: Sample) -> tuple[str, str | None, str | None]:
    return sample.taken.kind, sample.taken.room, sample.taken.point
