"""The pump: it draws what it should, for as long as it should, in one place at a time.

The nominal flow is that of the cassette's lot. Where the flow changed, the mean of both readings is used (`measures.mean_flow`);
the volume follows from it and the seconds really run.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from heapq import heappop, heappush
from itertools import islice, takewhile
from typing import Final

from bailee.domain.custody import Sample
from bailee.domain.flow import NOMINAL_L_MIN, Flow
from bailee.domain.form_acts import Opened
from bailee.domain.numbers import grouped
from bailee.rules import flow
from bailee.rules.case import Case
from bailee.rules.registry import Hit, rule
from bailee.rules.wording import clock


@rule(
    "PV-03", "Flow outside the range of the cassette", "warn", "media",
    "common practice, no source; the pump must meet the flow the sampler's maker gives: NIOSH Method 0800",
    "While you are on site: set the pump to the nominal flow and take the sample again. Otherwise the real flow is used. A "
    "reading that was misread: `bailee correct SAMPLE --field flow_after --new … --reason misread`.",
)  # fmt: skip
def flow_range(case: Case) -> Iterator[Hit]:
    """A reading below or above the nominal flow by more than the tolerance, both limits included in the range."""
    return _flow_faults(case, "PV-03")


@rule(
    "PV-04", "Flow changed during the run", "warn", "media", "county-filed air sampling plans (over 5 %: use the mean)",
    "Look at battery, tubing and filter. The mean of both readings is used for the volume. A reading that was misread: "
    "`bailee correct SAMPLE --field flow_after --new … --reason misread`.",
)  # fmt: skip
def drift(case: Case) -> Iterator[Hit]:
    """The flow after differs from the flow before by strictly more than the lower limit, and no more than the upper."""
    return _flow_faults(case, "PV-04")


@rule(
    "PV-05", "Flow changed too much during the run", "block", "media", "county-filed air sampling plans (held within 10 %)",
    "Take the sample again with a pump that holds its flow, and void this one: `bailee void SAMPLE --reason pump_fault`. A "
    "reading that was misread: `bailee correct SAMPLE --field flow_after --new … --reason misread`.",
    may_be_excepted=True,
    afterwards="It cannot be taken again now: the laboratory reports it as qualified (`bailee accept SAMPLE --qualified`). A reading "
    "that was misread: `bailee correct SAMPLE --field flow_after --new … --reason misread`.",
)  # fmt: skip
def great_drift(case: Case) -> Iterator[Hit]:
    """The flow after differs from the flow before by strictly more than the upper limit."""
    return _flow_faults(case, "PV-05")


@rule(
    "PV-08", "Run time other than planned", "note", "media",
    "EPA Region 6, custody guidelines for air canisters (write the real elapsed time)",
    "Nothing to correct: the seconds really run are used. Typed wrongly: `bailee correct SAMPLE --field run_s --new … "
    "--reason typing`. Check the battery if the pump stopped by itself.",
)  # fmt: skip
def run_time(case: Case) -> Iterator[Hit]:
    """Off the plan (of the sample, else the lot's usual run) by more than the tolerance; a warning beyond the share."""
    for form, sample in case.samples():
        body, policy, lot = sample.taken, case.policy(form), case.lot_of(sample)
        planned = body.planned_s if body.planned_s is not None else lot.run_s if lot else body.run_s
        off = abs(body.run_s - planned)
        great = off * 100 > policy.run_warn_pct * planned
        if body.kind != "blank" and off > policy.run_tolerance_s:
            yield Hit.on(
                sample,
                f"{grouped(sample.number)} ran {body.run_s} s; {planned} s were planned.",
                "warn" if great else None,
                by=("run_warn_pct" if great else "run_tolerance_s",),
            )


@rule(
    "PV-10", "One pump in two places at once", "block", "media", "derived: a pump has one inlet",
    "Find out which pump or which time is wrong; its collector corrects it: `bailee correct SAMPLE --field pump --new … "
    "--reason typing` or `bailee correct SAMPLE --field started --new … --reason clock`.",
)  # fmt: skip
def overlapping(case: Case) -> Iterator[Hit]:
    """Two runs of one firm's pump share some time, on one visit or on two. One may begin when the other ends."""
    runs: dict[tuple[str, str], list[_Run]] = {}
    for form in case.forms.values():
        firm = form.opened.of(Opened).parties.firm
        for sample in form.live:
            if sample.taken.pump and sample.taken.run_s:
                runs.setdefault((firm, sample.taken.pump), []).append(_run(sample))
    asked = {sample.number for _, sample in case.samples()}
    for of_one_pump in runs.values():
        for sample, others in _sharing(of_one_pump):
            for other in others if sample.number in asked else ():
                yield Hit.on(
                    sample,
                    f"{sample.taken.pump} ran for {grouped(sample.number)} ({_span(sample)}) while it also ran for "
                    f"{grouped(other.number)} ({_span(other)}).",
                )


_Run = tuple[datetime, datetime, str, Sample]
_NAMED: Final = 20
"""So many other runs are named for each: whoever reads so far knows that the number of the pump is wrong."""


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
    for form, sample in case.samples():
        lot, taken = case.lot_of(sample), sample.taken
        if lot is None and wanted == "PV-03":
            continue  # no lot, no nominal flow
        run = Flow(
            taken.flow_before, taken.flow_after, taken.run_s, lot.nominal_flow if lot else NOMINAL_L_MIN
        )
        for fault in flow.faults(run, case.policy(form), f" of {grouped(sample.number)}"):
            if fault.rule == wanted:
                yield Hit.on(sample, fault.sentence, by=(fault.by,))


def _run(sample: Sample) -> _Run:
    start = sample.taken.started.instant
    return start, start + timedelta(seconds=sample.taken.run_s), sample.number, sample


def _span(sample: Sample) -> str:
    return f"{clock(sample.taken.started)}, {sample.taken.run_s} s"
