"""The pump: it draws what it should, for as long as it should, in one place at a time.

The nominal flow is that of the cassette's lot. Where the flow changed, the mean of both readings is used
(`measures.mean_flow`); the volume follows from it and the seconds really run.

What the rules about flow say of one run, whether a sample was taken with it or somebody only asks.

Runs of the pump beside each other: time to walk between them, volumes a laboratory can use, a pump that
stopped by itself.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from decimal import Decimal
from heapq import heappop, heappush
from itertools import islice, pairwise, takewhile
from typing import Final

from bailee.domain import measures, pairing
from bailee.domain.acts.form import Opened
from bailee.domain.acts.mentions import pump
from bailee.domain.custody import Form, Sample
from bailee.domain.flow import NOMINAL_L_MIN, Flow
from bailee.domain.moments import duration_words
from bailee.domain.numbers import grouped
from bailee.domain.policy import Policy
from bailee.frozen import frozen
from bailee.rules.case import Case, Run
from bailee.rules.registry import RULES, Finding, Hit, rule, shared
from bailee.rules.remedies import Remedy, advice, do, for_all, on_site
from bailee.rules.wording import clock

ABOUT = "flow"
"""What such a finding is about when there is no sample."""


@frozen
class Crossed:
    """A rule, its sentence, and the threshold that was crossed."""

    rule: str
    sentence: str
    by: str
    remedy: Remedy | None = None


_MISREAD: Final = {
    "before": do("corrected", "sample", field="flow_before", new=..., reason="misread"),
    "after": do("corrected", "sample", field="flow_after", new=..., reason="misread"),
}
"""By the word of a reading: the correction of it."""


def _real_flow(*readings: str) -> Remedy:
    return on_site(
        "Still on site: adjust the pump to the nominal flow and collect again. Otherwise the measured flow is"
        " used."
    ) + advice(
        "Correct a reading that was misread.",
        *(_MISREAD[each] for each in readings),
    )


def faults(run: Flow, policy: Policy, of: str = "") -> Iterator[Crossed]:
    """PV-03, and PV-04 or PV-05, for these readings; `of` names the samples inside the sentence, as in ` of
    S7K3 …`.
    """
    low, high = run.range_of(policy.flow_tolerance_pct)
    out = {when: flow for when, flow in run.readings.items() if not low <= flow <= high}
    if out:
        read = " and ".join(f"{flow} L/min {when}" for when, flow in out.items())
        wanted = f"limits {plain(low)} to {plain(high)} L/min"
        said = f"The flow{of} was {read} the run; {wanted}."
        yield Crossed("PV-03", said, "flow_tolerance_pct", _real_flow(*out))
    if run.drifted_beyond(policy.drift_block_pct):
        yield Crossed("PV-05", _drifted(run, policy.drift_block_pct, of), "drift_block_pct")
    elif run.drifted_beyond(policy.drift_warn_pct):
        yield Crossed("PV-04", _drifted(run, policy.drift_warn_pct, of), "drift_warn_pct")


def findings(run: Flow, policy: Policy) -> list[Finding]:
    """The same as findings, before any sample exists."""
    return [
        Finding(
            rule.id,
            rule.severity,
            rule.area,
            ABOUT,
            fault.sentence,
            rule.remedy.words,
            acts=rule.remedy.acts({}),
        )
        for fault in faults(run, policy)
        for rule in (RULES[fault.rule],)
    ]


@frozen
class DetectionLimit:
    """A detection limit for one part of the trace read: fs/m³ to two decimals, and as reported.

    None where no air was drawn.
    """

    fraction: str
    fs_m3: str | None
    reported: str | None


@frozen
class FlowFigures:
    """Figures as people read them, rounded half up once, here. None means there is no such figure."""

    mean_l_min: str | None
    mean_cfm: str | None
    drift_pct: str | None
    volume_l: str | None
    volume_ft3: str | None
    limits: tuple[DetectionLimit, ...]
    notes: tuple[str, ...]


def told(run: Flow, fractions: Sequence[Decimal]) -> FlowFigures:
    """Everything that follows from one run. Raises `Malformed` for a part of the trace that cannot be."""
    return FlowFigures(
        mean_l_min=plain(run.mean) if run.mean is not None else None,
        mean_cfm=_text(run.mean, 4, measures.CUBIC_FOOT_IN_LITERS),
        drift_pct=f"{measures.rounded(run.drift_pct, 2):+}" if run.drift_pct is not None else None,
        volume_l=_text(run.volume_l, 2),
        volume_ft3=_text(run.volume_l, 4, measures.CUBIC_FOOT_IN_LITERS),
        limits=tuple(
            DetectionLimit(plain(each), _text(run.limit(each), 2), _text(run.limit(each), 0))
            for each in fractions
        ),
        notes=tuple(_notes(run)),
    )


def plain(value: Decimal) -> str:
    """A decimal without trailing zeros and without an exponent."""
    return f"{value.normalize():f}"


def _text(value: Decimal | None, places: int, unit: Decimal = Decimal(1)) -> str | None:
    return f"{measures.rounded(value / unit, places):f}" if value is not None else None


def _notes(run: Flow) -> Iterator[str]:
    if not run.readings:
        yield (
            "No flow on record: a field blank draws no air and has no volume; report structures per sample"
            " only."
        )
    elif run.volume_l == 0:
        yield "No air was drawn: there is no concentration; report structures per sample only."
    if len(run.readings) == 1:
        yield "One flow reading on record: drift cannot be computed, and the one reading is used as the mean."
    if run.before == 0 and run.after:
        yield "The flow before the run read 0: its drift has no percentage."


def _drifted(run: Flow, limit_pct: Decimal, of: str) -> str:
    by = ""
    if run.drift_pct is not None:
        size = measures.rounded_beside(abs(run.drift_pct), limit_pct, 2)
        by = f" ({size.copy_sign(run.drift_pct):+} %)"
    return (
        f"The flow{of} went from {run.before} to {run.after} L/min{by}; the limit is at most {limit_pct} %."
        f" The mean, {run.mean} L/min, is used."
    )


@rule(
    "PV-03", "Flow outside the range of the cassette", "warn", "media",
    "common practice, no source; the pump must meet the flow the cassette's maker gives: NIOSH Method 0800, "
    "by analogy",
    _real_flow(*_MISREAD),
)  # fmt: skip
def flow_range(case: Case) -> Iterator[Hit]:
    """A reading below or above the nominal flow by more than the tolerance, both limits included in the
    range.
    """
    return _flow_faults(case, "PV-03")


@rule(
    "PV-04",
    "Flow changed during the run",
    "warn",
    "media",
    "county-filed air sampling plans (over 5 %: use the mean)",
    on_site("Check battery, tubing and how the cassette is seated.")
    + for_all("The mean of both readings is used for the volume.")
    + advice("Correct a reading that was misread.", *_MISREAD.values()),
)
def drift(case: Case) -> Iterator[Hit]:
    """The flow after differs from the flow before by strictly more than the lower limit, and no more than the
    upper.
    """
    return _flow_faults(case, "PV-04")


@rule(
    "PV-05",
    "Flow changed too much during the run",
    "block",
    "media",
    "county-filed air sampling plans (held within 10 %)",
    on_site(
        "Still on site: collect again with a pump that holds its flow, and void this one.",
        do("voided", "sample", reason="pump_fault"),
    )
    + advice("Correct a reading that was misread.", *_MISREAD.values()),
    may_be_excepted=True,
    afterwards=for_all(
        "It cannot be collected again now: the laboratory decides whether to report it as qualified.",
        do("accepted", "sample", qualified=True),
    )
    + advice("Correct a reading that was misread.", *_MISREAD.values()),
)
def great_drift(case: Case) -> Iterator[Hit]:
    """The flow after differs from the flow before by strictly more than the upper limit."""
    return _flow_faults(case, "PV-05")


@rule(
    "PV-08", "Run time other than planned", "note", "media",
    "EPA Region 6, custody guidelines for air canisters (write the real elapsed time)",
    advice(
        "Nothing to fix: the seconds as run are used. Correct what was typed wrongly. Check the battery if "
        "the pump stopped by itself.",
        do("corrected", "sample", field="run_s", new=..., reason="typing"),
    ),
)  # fmt: skip
def run_time(case: Case) -> Iterator[Hit]:
    """Off the plan (of the sample, else the lot's usual run in a room) by more than the tolerance.

    A warning beyond the share.
    """
    for form, sample in case.air():
        body, policy, lot = sample.taken, case.policy(form), case.lot_of(sample)
        usual = lot.run_s if lot and not sample.cavity else body.run_s
        planned = body.planned_s if body.planned_s is not None else usual
        off = abs(body.run_s - planned)
        great = off * 100 > policy.run_warn_pct * planned
        if body.kind != "blank" and off > policy.run_tolerance_s:
            yield shared(
                form,
                sample,
                f"{{these}} ran {body.run_s} s; planned {planned} s.",
                "warn" if great else None,
                by=("run_warn_pct" if great else "run_tolerance_s",),
            )


@rule(
    "PV-10", "Run times of one pump overlap", "block", "media",
    "derived: one inlet draws one sample at a time",
    advice(
        "Check pump and times; the inspector who collected corrects what is wrong. A pump with two ports: "
        "record one ID for each port.",
        do("corrected", "sample", field="pump", new=..., reason="typing"),
        do("corrected", "sample", field="started", new=..., reason="clock"),
    ),
)  # fmt: skip
def overlapping(case: Case) -> Iterator[Hit]:
    """Two runs of one firm's pump share some time, on one visit or on two.

    One may begin when the other ends.
    """
    runs: dict[tuple[str, str], list[_Run]] = {}
    for form in case.forms.values():
        firm = form.opened.of(Opened).parties.firm
        for sample in form.air:
            if sample.taken.pump and sample.taken.run_s:
                runs.setdefault((firm, sample.taken.pump), []).append(_run(sample))
    asked = {sample.number for _, sample in case.air()}
    for of_one_pump in runs.values():
        for sample, others in _sharing(of_one_pump):
            for other in others if sample.number in asked else ():
                yield Hit.on(
                    sample,
                    f"{sample.taken.pump} ran for {grouped(sample.number)} ({_span(sample)}) while it also"
                    f" ran for {grouped(other.number)} ({_span(other)}).",
                )
    for _, sample in case.air():
        for run in islice(_elsewhere(case, sample), _NAMED):
            yield Hit.on(
                sample,
                f"{sample.taken.pump} ran for {grouped(sample.number)} ({_span(sample)}) while it also ran"
                f" for {grouped(run.sample)} ({clock(run.started)}, {run.run_s} s) on form"
                f" {grouped(run.form)}.",
            )


_Run = tuple[datetime, datetime, str, Sample]
_NAMED: Final = 20
"""So many other runs are named for each: whoever reads so far knows that the number of the pump is wrong."""


def _elsewhere(case: Case, sample: Sample) -> Iterator[Run]:
    """Runs of the same pump on forms that are not here, which share some time with this one."""
    begins, ends, _, _ = _run(sample)
    if case.elsewhere and sample.taken.pump and sample.taken.run_s:
        for run in case.elsewhere.runs.get(pump(sample.claims[0].entry.org, sample.taken.pump), ()):
            began = run.started.instant
            if run.sample != sample.number and began < ends and begins < began + timedelta(seconds=run.run_s):
                yield run


def _sharing(runs: list[_Run]) -> Iterator[tuple[Sample, list[Sample]]]:
    """Each run with others that share some time with it, `_NAMED` at most."""
    runs = sorted(runs, key=lambda run: run[:3])
    going: list[tuple[datetime, int]] = []
    for place, (start, stop, _, sample) in enumerate(runs):
        while going and going[0][0] <= start:
            heappop(going)
        later = takewhile(lambda each: runs[each][0] < stop, range(place + 1, len(runs)))  # noqa: B023 - used at once
        beside = [*sorted(each for _, each in going[:_NAMED]), *islice(later, _NAMED)]
        yield sample, [runs[each][3] for each in beside[:_NAMED]]
        heappush(going, (stop, place))


def _flow_faults(case: Case, wanted: str) -> Iterator[Hit]:
    """Runs with the same readings are one fault, said of them all."""
    for form, sample in case.air():
        lot, taken = case.lot_of(sample), sample.taken
        if lot is None and wanted == "PV-03":
            continue  # no lot, no nominal flow
        run = Flow(
            taken.flow_before, taken.flow_after, taken.run_s, lot.nominal_flow if lot else NOMINAL_L_MIN
        )
        of = f" of {{these}} (by checks of {taken.pump})" if sample.day_check else " of {these}"
        for fault in faults(run, case.policy(form), of):
            if fault.rule == wanted:
                yield shared(form, sample, fault.sentence, by=(fault.by,), remedy=fault.remedy)


def _run(sample: Sample) -> _Run:
    start = sample.taken.started.instant
    return start, start + timedelta(seconds=sample.taken.run_s), sample.number, sample


def _span(sample: Sample) -> str:
    return f"{clock(sample.taken.started)}, {sample.taken.run_s} s"


@rule(
    "PV-11",
    "Pump moved faster than it can be carried",
    "warn",
    "media",
    "derived: a pump is carried from place to place",
    advice(
        "Nothing to fix if it is so. If a pump or a time is wrong, the inspector who collected corrects it.",
        do("corrected", "sample", field="pump", new=..., reason="typing"),
        do("corrected", "sample", field="started", new=..., reason="clock"),
    ),
)
def no_time_to_walk(case: Case) -> Iterator[Hit]:
    """One pump began in another place fewer seconds after a run ended than it takes to walk.

    Overlaps are PV-10.
    """
    asked = {sample.number for _, sample in case.air()}
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
                    f"{after.taken.pump} started {grouped(after.number)} {pause.total_seconds():.0f} s after"
                    f" it ended {grouped(before.number)} in another place; the policy asks for at least"
                    f" {wanted} s to carry it there.",
                    by=("walk_s",),
                )


@rule(
    "PV-12", "Volume outside limits", "warn", "media",
    "common practice; the range depends on the volume: ASTM D7391-20, scope",
    on_site("Still on site: collect again.")
    + for_all("The laboratory records whether it counts such a trace.")
    + advice(
        "Correct a run or a flow that was typed wrongly.",
        do("corrected", "sample", field="run_s", new=..., reason="typing"),
    ),
)  # fmt: skip
def volume_range(case: Case) -> Iterator[Hit]:
    """A volume below or above the wanted ones, both included; no air at all is BD-04."""
    for form, sample in case.air():
        volume, policy = sample.taken.volume_l, case.policy(form)
        least = "cavity_volume_min_l" if sample.kind == "cavity" else "volume_min_l"
        low, high = getattr(policy, least), policy.volume_max_l
        if volume and not low <= volume <= high:
            crossed = low if volume < low else high
            yield shared(
                form,
                sample,
                f"{{these}} drew {measures.rounded_beside(volume, crossed, 1)} L; limits {low} to {high} L.",
                by=(least if volume < low else "volume_max_l",),
            )


@rule(
    "PV-13",
    "Volumes indoors and outdoors differ",
    "note",
    "comparison",
    "derived: the detection limit follows from the volume",
    "Nothing to fix: it is printed on the custody record. The laboratory gives the detection limit with each"
    " result.",
)
def volumes_differ(case: Case) -> Iterator[Hit]:
    """Indoor sample and outdoor control, in per cent of the indoor volume, strictly more than the limit."""
    for form, in_question in case.air_visits():
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
                apart = measures.rounded_beside(abs(inside - outside) * 100 / inside, limit, 1)
                yield Hit.on(
                    pair.indoor,
                    f"{grouped(pair.indoor.number)} drew {measures.rounded(inside, 1)} L and its outdoor"
                    f" control {grouped(pair.outdoor.number)} {measures.rounded(outside, 1)} L, {apart} %"
                    f" apart; noted above {limit} %.",
                    by=("volume_gap_pct",),
                )


@rule(
    "PV-14", "Pump stopped by itself", "warn", "media",
    "EPA Region 6, custody guidelines for air canisters (write the real elapsed time); common practice",
    advice(
        "Nothing to fix if the seconds are right; correct them if they are not. Charge or service the pump "
        "before its next run.",
        do("corrected", "sample", field="run_s", new=..., reason="typing"),
    ),
)  # fmt: skip
def stopped(case: Case) -> Iterator[Hit]:
    """The collector says that the pump stopped on its own, and why."""
    for form, sample in case.air():
        body = sample.taken
        if body.pump_stop:
            which = body.pump or "The pump"
            yield shared(
                form,
                sample,
                f"{which} stopped by itself during {{these}} ({body.pump_stop}), after "
                f"{duration_words(timedelta(seconds=body.run_s))}.",
            )


def _by_pump(case: Case) -> Iterator[list[tuple[Form, Sample]]]:
    """Runs of each firm's pump in order of their start."""
    runs: dict[tuple[str, str], list[tuple[Form, Sample]]] = {}
    for form in case.forms.values():
        for sample in form.air:
            if sample.taken.pump and sample.taken.run_s:
                firm = form.opened.of(Opened).parties.firm
                runs.setdefault((firm, sample.taken.pump), []).append((form, sample))
    for found in runs.values():
        yield sorted(found, key=lambda each: (each[1].taken.started.instant, each[1].number))


def _end(sample: Sample) -> datetime:
    return sample.taken.started.instant + timedelta(seconds=sample.taken.run_s)


def _place(sample: Sample) -> tuple[str, str | None, str | None]:
    return sample.taken.kind, sample.taken.room, sample.taken.point
