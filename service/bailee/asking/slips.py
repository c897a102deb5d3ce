"""What is surely a slip of the finger in one cassette: asked before the signature.

None of the bounds here is a limit of the trade; each lies where a true value is next to impossible (common
practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date, timedelta
from decimal import Decimal
from typing import Any, Final

from bailee.asking.slip import Slip, VisitSoFar
from bailee.asking.unit_slips import USUAL_FLOW, decimal_of, flow_read, pressure, temperatures
from bailee.asking.written import SURELY_SECONDS, BareRun
from bailee.domain import measures, numbers
from bailee.domain.moments import Moment
from bailee.errors import BaileeError

FEW_SECONDS: Final = 30
"""A pump that ran so short drew too little to be wanted, and 1 to 30 are minutes people name."""
LONG_RUN_S: Final = 3600
"""Longer, and a spore trap is overloaded many times over."""
TALLEST_M: Final = Decimal(5)
"""No tripod is as tall."""
_NIGHT_ENDS_H: Final = 6
_OF_PROGRAMS: Final = 0


def collected(
    said: Mapping[str, Any], visit: VisitSoFar, nominal_flow: Decimal | None = None
) -> Iterator[Slip]:
    """Slips of one cassette; `said` is the data of `collected`, `nominal_flow` the flow its lot is made
    for, L/min.
    """
    yield from _run(said)
    yield from _flows(said, nominal_flow or USUAL_FLOW)
    yield from _start(said, visit)
    yield from temperatures(said, "temperature_c")
    yield from pressure(said)
    height = decimal_of(said.get("height_m"))
    if height is not None and height > TALLEST_M:
        yield Slip(
            "far-up",
            "height_m",
            str(height),
            f"The inlet would be {measures.length_text(height)} above the floor.",
            "Inches are written in, feet ft, meters m.",
        )
    yield from _labels(said)
    yield from pump_as_meter(said)
    yield from visit_closed(visit)


def _labels(said: Mapping[str, Any]) -> Iterator[Slip]:
    """The number of a label of ours where that of a pump, a meter or the maker's serial is entered."""
    for member, of in (("pump", "a pump"), ("meter", "a flow meter"), ("serial", "its maker")):
        text = said.get(member)
        if text and (label := numbers.label_number(str(text))):
            yield Slip(
                "label-as-equipment",
                member,
                str(text),
                f"{numbers.on_label(label)}, not of {of}.",
                "Read the number on the equipment, or the serial on the body of the cassette.",
            )


def pump_as_meter(said: Mapping[str, Any]) -> Iterator[Slip]:
    """One number for the pump and for the meter by which its flow was read."""
    pump, meter = (str(said.get(each) or "").strip() for each in ("pump", "meter"))
    if pump and pump.casefold() == meter.casefold():
        yield Slip(
            "pump-as-meter",
            "meter",
            meter,
            f"{meter} is entered as the pump and as the flow meter.",
            "Read the number on the flow meter: it is another instrument.",
            also=("pump",),
        )


def lot_of_another_kind(sample: str, nominal_flow: object, *, surface: bool) -> Iterator[Slip]:
    """A label issued from a box of cassettes on a sample of a surface, or the reverse. Through what is for
    surfaces no air is drawn: its flow is 0; None where no lot is known.
    """
    flow = decimal_of(nominal_flow)
    if flow is None or (flow == 0) == surface:
        return
    of, is_now = ("cassettes", "a sample of a surface") if surface else ("media for surfaces", "a cassette")
    yield Slip(
        "lot-of-another-kind",
        "sample",
        sample,
        f"{numbers.grouped(sample)} was issued from a lot of {of}, and this would be {is_now}.",
        "Take a label of the lot that it comes from, or one that was issued from no lot.",
        asks="Scan another; or y: it is so; or n",
    )


def visit_closed(visit: VisitSoFar) -> Iterator[Slip]:
    """A visit whose samples were sealed or shipped: known before anything is said of one cassette more."""
    if visit.closed:
        told = ", ".join(f"{numbers.grouped(each)} ({state})" for each, state in visit.closed.items())
        which = "envelopes" if len(visit.closed) > 1 else "envelope"
        yield Slip(
            "visit-closed",
            "form",
            ", ".join(visit.closed),
            f"Samples of this visit are closed up already: {which} {told}.",
            "A cassette of another visit goes on that visit's form: name it with --form, or open one.",
            asks="Add one more cassette to this visit all the same? [y/n]",
        )


def _run(said: Mapping[str, Any]) -> Iterator[Slip]:
    for member in ("run_s", "planned_s"):
        bare = said.get(member)
        if isinstance(bare, BareRun) and bare < SURELY_SECONDS:
            yield Slip(
                "run-without-unit",
                member,
                str(bare),
                f"{bare} minutes or {bare} seconds? Without a unit it is seconds.",
                f"Write {bare} min or {bare} s.",
            )
    run, is_told_why = said.get("run_s"), said.get("short_run") or said.get("pump_stop")
    is_told_why = is_told_why or (run and said.get("cavity"))
    if not isinstance(run, int) or said.get("kind") == "blank":
        return
    if run == 0 and not is_told_why:
        yield Slip(
            "run-of-seconds",
            "run_s",
            "0 s",
            "The pump would not have run.",
            "A cassette without air is a field blank; minutes and seconds are written 5:00.",
        )
    elif run <= FEW_SECONDS and not is_told_why:
        yield Slip(
            "run-of-seconds",
            "run_s",
            f"{run} s",
            f"The pump would have run {run} s.",
            f"{run} minutes are written {run}:00 or {run} min.",
            f"{run} min",
        )
    elif run > LONG_RUN_S:
        yield Slip(
            "run-of-hours",
            "run_s",
            f"{run} s",
            f"The pump would have run {run // 3600} h {run % 3600 // 60} min.",
            "Minutes and seconds are written 5:00, seconds 300 s.",
        )


def _flows(said: Mapping[str, Any], usual: Decimal) -> Iterator[Slip]:
    if said.get("kind") != "blank":
        yield from flow_read(said, "flow_before", "The flow before the run", usual)
        yield from flow_read(said, "flow_after", "The flow after the run", usual)


def _start(said: Mapping[str, Any], visit: VisitSoFar) -> Iterator[Slip]:
    try:
        start = Moment.parse(str(said.get("started")))
    except BaileeError:
        return  # whoever reads the statement says what is wrong with it
    if visit.zone:
        there = Moment.shown_in(start.instant, visit.zone)
        if start.offset_minutes not in (there.offset_minutes, _OF_PROGRAMS):
            yield Slip(
                "other-zone",
                "started",
                start.text(),
                f"The start {start.text()} is on another clock than the visit's ({visit.zone}): there it was"
                f" {there.text()}.",
                "Give the time on the clocks of the site.",
                f"{there.local:%Y-%m-%d %H:%M}",
            )
        start = there
    if visit.day and not _is_of(start, visit.day):
        yield Slip(
            "another-day",
            "started",
            start.text(),
            f"The run would have started on {start.local_date.isoformat()}, and the visit is on"
            f" {visit.day.isoformat()}.",
            "Check the day, or name the form of the other visit.",
            f"{visit.day.isoformat()} {start.local:%H:%M}",
        )


def _is_of(start: Moment, day: date) -> bool:
    """On that day, or in the night that follows it."""
    next_day = start.local_date == day + timedelta(days=1)
    return start.local_date == day or (next_day and start.local.hour < _NIGHT_ENDS_H)
