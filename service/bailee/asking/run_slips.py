"""What one cassette cannot share with another: the time of a pump (PV-10), the serial of its glass (CL-04);
and that it runs once.

Asked back before the signature, from the runs that are known there and then; the rules look at all that is on
record.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any, Final

from bailee.asking import slips, unit_slips
from bailee.asking.slip import Slip, VisitSoFar
from bailee.asking.written import BY_HAND_S, SURELY_SECONDS, BareRun
from bailee.domain import corrections
from bailee.domain.acts.form import Collected, ConditionsRead, PumpChecked
from bailee.domain.acts.table import name_of
from bailee.domain.moments import Moment
from bailee.domain.numbers import grouped
from bailee.errors import BaileeError
from bailee.presentation import words

AHEAD: Final = timedelta(minutes=5)
"""How far the clocks of two people may differ (common practice, no source)."""
_EXPECTED: Final = ("expected", "expected_delivery", "expected_receipt", "until")
"""Moments that may be still to come."""
_TO_THE_MINUTE: Final = timedelta(minutes=1)
"""A start is read off a clock that shows no seconds."""


def beside(said: Mapping[str, Any], form: str, known: Iterable[Mapping[str, Any]]) -> Iterator[Slip]:
    """Slips of one cassette beside the others that are `known`; `said` is the data of `collected`, and so is
    each of them, with its `form`.
    """
    others = [each for each in known if each["sample"] != said["sample"]]
    yield from _pump(said, others)
    yield from _serial(said, form, others)
    yield from _digits(said, [each for each in others if each["form"] == form])


def at_one_point(said: Mapping[str, Any], form: str, known: Iterable[Mapping[str, Any]]) -> Iterator[Slip]:
    """A second sample indoors at a point where one of the visit was collected, or in its room where neither
    has a point, not called its duplicate (SL-08); a point of the sketch that would lie in two rooms. Both are
    as in `beside`.
    """
    if said.get("kind") == "blank" or said.get("duplicate_of"):
        return
    for other in known:
        if other["form"] != form or other["sample"] == said["sample"] or other.get("kind") == "blank":
            continue
        if found := _at_the_point_of(said, other):
            yield found
            return


def _at_the_point_of(said: Mapping[str, Any], other: Mapping[str, Any]) -> Slip | None:
    """The slip of one sample beside one other of its visit."""
    point, there = (str(each.get("point") or "").casefold() for each in (said, other))
    is_indoors = said.get("kind") == other.get("kind") == "indoor"
    number, room = grouped(other["sample"]), _room(said)
    if point != there or not (is_indoors or (point and _room(other) != room)):
        return None
    if point and _room(other) != room:
        return Slip(
            "point-in-two-rooms",
            "point",
            str(said["point"]),
            f"{said['point']} would be {room}, and {number} was collected there {_room(other)}.",
            "A point of the sketch lies in one place: read it again, or check the room.",
            also=("room",),
        )
    if point:
        return Slip(
            "point-twice",
            "point",
            str(said["point"]),
            f"{number} was collected at {said['point']} {room} already.",
            "Give this place a point of its own; a duplicate is entered with --duplicate-of.",
        )
    if said.get("room") and said["room"] == other.get("room"):
        return Slip(
            "room-twice",
            "point",
            "",
            f"{number} was collected {room} already, and neither has a point on the sketch.",
            "Points distinguish two rooms of one kind; a duplicate is entered with --duplicate-of.",
            asks="Type the point of this one, like P2; or y: it is so; or n",
        )
    return None


def _room(said: Mapping[str, Any]) -> str:
    """Where it was, in words."""
    if said.get("kind") == "outdoor":
        return "outdoors"
    room = said.get("room")
    if not room:
        return "in the same place"
    return _ROOMS.get(room, f"in the {words.plain(room)}")


_ROOMS: Final = {
    "living": "in the living room",
    "mechanical": "in the mechanical room",
    "other": "in another room",
}


def collected_already(before: Mapping[str, Any]) -> Iterator[Slip]:
    """A cassette scanned whose run was recorded `before` (data of `collected`)."""
    number = str(before["sample"])
    yield Slip(
        "collected-already",
        "sample",
        number,
        f"{grouped(number)} was collected already: its run started at {before['started'][11:16]}.",
        "Scan the cassette that has just run; what was entered wrongly is corrected.",
        asks="Scan another; or y: it is so; or n",
    )


def outdoor_there(known: Iterable[Mapping[str, Any]]) -> Iterator[Slip]:
    """An outdoor control that would be ruled out on a visit on which one of these runs was outdoors."""
    outdoors = [each for each in known if each.get("kind") == "outdoor"]
    if outdoors:
        named = ", ".join(grouped(each["sample"]) for each in outdoors)
        yield Slip(
            "outdoor-there",
            "form",
            named,
            f"An outdoor control of this visit is on record: {named}.",
            "Rule it out only where none is possible; an outdoor control that does not count is voided.",
        )


def not_over(said: Mapping[str, Any], now: datetime) -> Iterator[Slip]:
    """A run that goes on `now` by what was `said` of it: nobody has read its flow, or closed its covers."""
    span = _span({**said, "pump": said.get("pump") or "any"})
    if span and span[1] - now > _TO_THE_MINUTE:
        offset = Moment.parse(str(said["started"])).offset_minutes
        ends, at = (f"{Moment(each.replace(microsecond=0), offset).local:%H:%M}" for each in (span[1], now))
        yield Slip(
            "run-not-over",
            "started",
            str(said["started"]),
            f"The run ({_run(said)}) would end at {ends}, which is later than now, {at}.",
            "Check start and run time; what goes on is signed when it is over.",
        )


def pump_checked(said: Mapping[str, Any]) -> Iterator[Slip]:
    """Slips of one check of a pump; `said` is the data of `pump_checked`."""
    yield from unit_slips.flow_read(said, "flow", "The flow at the check")
    yield from slips.pump_as_meter(said)
    yield from of_the_air(said)


def of_the_air(said: Mapping[str, Any]) -> Iterator[Slip]:
    """Temperature and pressure in another unit."""
    yield from unit_slips.temperatures(said, "temperature_c")
    yield from unit_slips.pressure(said)


def corrected_beside(
    data: Mapping[str, Any], fields: Collection[str], form: str, known: Iterable[Mapping[str, Any]]
) -> Iterator[Slip]:
    """Slips of a cassette with these `fields` corrected, beside the others that are `known`."""
    others = [each for each in known if each["sample"] != data["sample"]]
    if not {"pump", "started", "run_s"}.isdisjoint(fields):
        yield from _pump(data, others)
    if "serial" in fields:
        yield from _serial(data, form, others)


def corrected(
    act: str,
    data: Mapping[str, Any],
    fields: Collection[str],
    visit: VisitSoFar,
    nominal_flow: Decimal | None = None,
    *,
    now: datetime,
) -> Iterator[Slip]:
    """Slips of an act on a form as it would stand with these `fields` corrected: of those alone, since what
    stands was asked about when it was signed.
    """
    found: Iterable[Slip] = ()
    if act == name_of(Collected):
        found = slips.collected(data, visit, nominal_flow)
    elif act == name_of(PumpChecked):
        found = pump_checked(data)
    elif act == name_of(ConditionsRead):
        found = of_the_air(data)
    told = [*(each for each in found if each.field in fields), *_still_to_come(data, fields, now)]
    yield from told
    if act == name_of(Collected) and "started" in fields and all(each.field != "started" for each in told):
        yield from not_over(data, now)


def _still_to_come(data: Mapping[str, Any], fields: Collection[str], now: datetime) -> Iterator[Slip]:
    """A moment ahead of the clock at which something would have been done."""
    for field in fields:
        try:
            at = Moment.parse(str(corrections.value(data, field)))
        except BaileeError:
            continue  # no moment
        if field not in _EXPECTED and at.instant - now > AHEAD:
            yield Slip(
                "still-to-come",
                field,
                at.text(),
                f"{words.plain(field.rpartition('.')[2]).capitalize()} {at.clock} is in the future: now it is"
                f" {Moment(now.replace(microsecond=0), at.offset_minutes).clock}.",
                "Enter the time at which it was done.",
            )


def _pump(said: Mapping[str, Any], others: Iterable[Mapping[str, Any]]) -> Iterator[Slip]:
    """One run of a pump ends before the next begins; it may begin when the other ends."""
    span = _span(said)
    for other in others:
        beside = _span(other) if span and other.get("pump") == said["pump"] else None
        if span and beside and span[0] < beside[1] and beside[0] < span[1]:
            yield Slip(
                "pump-in-two-places",
                "pump",
                str(said["pump"]),
                f"{said['pump']} would have run for {grouped(said['sample'])} ({_run(said)}) while it ran for"
                f" {grouped(other['sample'])} ({_run(other)}).",
                "Check pump and start. A pump with two ports has one ID for each port.",
                also=("started",),
            )
            return


def _serial(said: Mapping[str, Any], form: str, others: Iterable[Mapping[str, Any]]) -> Iterator[Slip]:
    """Two makers may number alike: only what is of one visit or of one lot is one cassette."""
    serial = said.get("serial")
    for other in others:
        is_one = other["form"] == form or other.get("lot") == said.get("lot")
        if serial and serial == other.get("serial") and is_one:
            yield Slip(
                "serial-twice",
                "serial",
                str(serial),
                f"The cassette with serial {serial} was collected as {grouped(other['sample'])} already.",
                "Read the serial on both cassettes.",
            )
            return


def _digits(said: Mapping[str, Any], visit: Iterable[Mapping[str, Any]]) -> Iterator[Slip]:
    """A run typed as a number without a unit that is as likely minutes and seconds: 149 is 1:49, unless it is
    a run like the others of the `visit`.
    """
    run = said.get("run_s")
    if not isinstance(run, BareRun) or run < SURELY_SECONDS:
        return
    minutes, seconds = divmod(run, 100)
    if all(abs(run - (each.get("run_s") or 0)) > BY_HAND_S for each in visit):
        yield Slip(
            "run-of-digits",
            "run_s",
            f"{run} s",
            f"{run} seconds are {run // 60}:{run % 60:02d}. Or was it {minutes}:{seconds:02d}?",
            f"Write {minutes}:{seconds:02d}, or {run} s.",
            f"{minutes}:{seconds:02d}",
        )


def _span(said: Mapping[str, Any]) -> tuple[datetime, datetime] | None:
    """From when to when its pump ran; None where none did, or nobody knows."""
    if not (said.get("pump") and said.get("run_s")):
        return None
    try:
        start = Moment.parse(str(said.get("started"))).instant
    except BaileeError:
        return None  # whoever reads the statement says what is wrong with it
    return start, start + timedelta(seconds=said["run_s"])


def _run(said: Mapping[str, Any]) -> str:
    return f"{said['started'][11:16]}, {said['run_s']} s"
