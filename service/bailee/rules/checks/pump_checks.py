"""Was the flow read: before and after each run, or by checks of the pump that speak for it.

Which checks speak for a run: `domain.day_checks`. That a pump may be checked once for the runs of a day is
common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from typing import Final

from bailee.domain.acts.form import PumpChecked
from bailee.domain.custody import DayCheck, Form, Sample
from bailee.domain.moments import duration_words
from bailee.rules.case import Case
from bailee.rules.registry import Hit, Severity, alike, rule, shared
from bailee.rules.remedies import advice, do, on_site
from bailee.rules.wording import clock, printed, samples

_ADD: Final = (
    do("corrected", "sample", field="flow_before", new=..., reason="left_out"),
    do("corrected", "sample", field="flow_after", new=..., reason="left_out"),
    do("pump_checked", "form"),
)
_CHECK_AFTER: Final = advice(
    "Check the pump once more that day, without adjusting it, and record the reading.",
    do("pump_checked", "form", when="after"),
)
_NO_MORE: Final = advice(
    "If the pump was checked after the runs, record that reading. Otherwise there is nothing to fix: the "
    "flow before is used, and that is printed.",
    do("pump_checked", "form", when="after"),
)
_MOST_TIMER_PCT: Final = Decimal(1)
_MOST_APART_H: Final = 24
"""Common practice, no source."""


@rule(
    "PV-02", "Flow before or after a run not recorded", "block", "media",
    "county-filed air sampling plans; AIHA Synergist, October 2018",
    advice(
        "Add what was read before and after; where the pump was checked for several runs, record its check.",
        *_ADD,
    )
    + on_site("Still on site: if neither was read, collect again."),
    may_be_excepted=True,
    afterwards=advice(
        "Add what was read before and after, if it was; where the pump was checked for several runs, record "
        "its check.",
        *_ADD,
    ),
)  # fmt: skip
def not_read(case: Case) -> Iterator[Hit]:
    """A sample that drew air lacks a reading: without both neither its volume nor its drift is known.

    Checked before the runs of the day and not after them: a warning, once for each check.
    """
    once: dict[int, tuple[Form, list[Sample]]] = {}
    unread: dict[Severity | None, list[tuple[Form, Sample, str]]] = {}
    for form, sample in case.air():
        body, check = sample.taken, sample.day_check
        lacking = [
            when for when, flow in (("before", body.flow_before), ("after", body.flow_after)) if flow is None
        ]
        if body.kind == "blank" or not lacking or (check and check.adjusted):
            continue
        if check and check.before:
            once.setdefault(check.before.entry.n, (form, []))[1].append(sample)
            continue
        severity: Severity | None = None if case.policy(form).flow_required else "warn"
        unread.setdefault(severity, []).append((form, sample, " and ".join(lacking)))
    for how_grave, found in unread.items():
        yield from alike(found, _say_not_read, how_grave, by=("flow_required",))
    for form, checked in once.values():
        yield _checked_once(case, form, checked)


def _say_not_read(found: Sequence[Sample], lacking: str) -> str:
    whose = "its" if len(found) == 1 else "their"
    volume = f"{whose} {'volume' if len(found) == 1 else 'volumes'}"
    so = f"{volume} cannot be computed" if " and " in lacking else "drift cannot be computed"
    return f"No flow on record {lacking} the run of {printed(each.number for each in found)}: {so}."


def _checked_once(case: Case, form: Form, checked: list[Sample]) -> Hit:
    check = checked[0].day_check
    assert check
    assert check.before
    body, names = check.before.of(PumpChecked), [sample.number for sample in checked]
    said = (
        f"{body.pump} was checked on {clock(body.at)} before {samples(names)}; no check after is on record:"
        " whether it held its flow is not known."
    )
    severity: Severity = "warn" if case.policy(form).day_check_after else "note"
    has_left = all(case.is_past(number) for number in names)
    return Hit(
        form.number, said, severity, (check.before.entry.n,), by=("day_check_after",),
        remedy=_NO_MORE if has_left else _CHECK_AFTER, names=tuple(names),
    )  # fmt: skip


@rule(
    "PV-18", "Check of the pump does not cover the run", "warn", "media",
    "common practice, no source; post-calibration: OSHA Technical Manual II:1, contents",
    advice(
        "Record every check of that day. Correct a reading or a time that is wrong.",
        do("pump_checked", "form"),
        do("corrected", "form", of="pump_checked", field="at", new=..., reason="clock"),
        do("corrected", "form", of="pump_checked", field="adjusted", new=..., reason="misread"),
    ),
)  # fmt: skip
def speaks_for_the_run(case: Case) -> Iterator[Hit]:
    """Adjusted between the run and the check after it stops the sample: nothing tells how it ended.

    Checks strictly more than a day apart, or a timer strictly more than 1 % off a watch, are warned of.
    """
    for form, sample in case.air():
        check = sample.day_check
        if check and check.adjusted:
            body = check.adjusted.of(PumpChecked)
            said = (
                f"{body.pump} was adjusted on {clock(body.at)}, after {{these}}; no reading before that is on"
                " record, and its flow at the end of the run is not known."
            )
            yield replace(shared(form, sample, said, "block"), entries=(check.adjusted.entry.n,))
    for form, _ in case.air_visits():
        yield from _far_apart(case, form)
        yield from _timers(case, form)


def _far_apart(case: Case, form: Form) -> Iterator[Hit]:
    found: dict[tuple[int, int], list[Sample]] = {}
    for sample in _asked(case, form):
        check = sample.day_check
        if check and check.before and check.after:
            found.setdefault((check.before.entry.n, check.after.entry.n), []).append(sample)
    for entries, checked in found.items():
        apart = _apart(checked[0].day_check)
        if apart > timedelta(hours=_MOST_APART_H):
            names = samples([sample.number for sample in checked])
            said = (
                f"The checks of {checked[0].taken.pump} before and after {names} lie {duration_words(apart)}"
                f" apart; the limit is at most {_MOST_APART_H} h."
            )
            yield Hit(form.number, said, entries=entries)


def _timers(case: Case, form: Form) -> Iterator[Hit]:
    for said in form.pump_checks:
        body = said.of(PumpChecked)
        if body.timer_s is None or body.watch_s is None:
            continue
        timed = [
            sample.number
            for sample in _asked(case, form)
            if sample.taken.pump == body.pump
            and sample.claims[0].entry.org == said.entry.org
            and sample.taken.timer_stop is not False
        ]
        if timed and abs(body.timer_s - body.watch_s) * 100 > _MOST_TIMER_PCT * body.watch_s:
            sentence = (
                f"The timer of {body.pump} took {body.timer_s} s for {body.watch_s} s by a watch; the limit"
                f" is at most {_MOST_TIMER_PCT} %. Run with it: {samples(timed)}."
            )
            yield Hit(form.number, sentence, entries=(said.entry.n,))


def _asked(case: Case, form: Form) -> Iterator[Sample]:
    return (sample for where, sample in case.air() if where is form)


def _apart(check: DayCheck | None) -> timedelta:
    """How far the check after is from the one before."""
    assert check
    assert check.before
    assert check.after
    return check.after.of(PumpChecked).at.instant - check.before.of(PumpChecked).at.instant
