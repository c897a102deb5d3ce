"""What in one cassette is surely a slip by the others of its visit: an instrument or a serial in another's
place, a start half a day away from all of them, or from when the form was opened.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date, datetime, timedelta
from typing import Any, Final

from bailee.asking.slip import Slip
from bailee.domain.moments import Moment
from bailee.domain.numbers import grouped
from bailee.errors import BaileeError
from bailee.presentation import words

HALF_A_DAY: Final = timedelta(hours=12)
FAR: Final = timedelta(hours=6)
"""So far from every other run of the visit a start is looked at again (common practice, no source)."""
NEAR: Final = timedelta(hours=2)
"""So near to one of them it would be, read on the other half of the day (common practice, no source)."""
HALF_A_DAY_OFF: Final = "half-a-day-off"
_INSTRUMENTS: Final = ("pump", "meter")


def among(
    said: Mapping[str, Any],
    form: str,
    known: Iterable[Mapping[str, Any]],
    opened: datetime | None = None,
    now: datetime | None = None,
) -> Iterator[Slip]:
    """Slips of one cassette among the others of its visit; `said` is the data of `collected`, and so is each
    of the runs `known`, with its `form`, which was `opened` then, and it is `now`, where that is known.
    """
    visit = [each for each in known if each["form"] == form and each["sample"] != said.get("sample")]
    yield from of_instruments(said, visit)
    yield from _serial(said, visit)
    yield from _half_a_day(said, visit, opened, now)


def of_instruments(said: Mapping[str, Any], visit: Iterable[Mapping[str, Any]]) -> Iterator[Slip]:
    """A pump of the visit as the flow meter, or the reverse; one number for both is told by itself."""
    pump, meter = (_plain(said.get(each)) for each in _INSTRUMENTS)
    if pump == meter:
        return
    for member, other, code in (("meter", "pump", "pump-as-meter"), ("pump", "meter", "meter-as-pump")):
        number = _plain(said.get(member))
        beside = next((each for each in visit if number and _plain(each.get(other)) == number), None)
        if beside:
            yield Slip(
                code,
                member,
                str(said[member]),
                f"{said[member]} is entered as the {words.of_field(member)}, and was the"
                f" {words.of_field(other)} of {grouped(beside['sample'])}.",
                "Read the numbers on the pump and on the flow meter: they are two instruments.",
            )


def _serial(said: Mapping[str, Any], visit: Sequence[Mapping[str, Any]]) -> Iterator[Slip]:
    """The number of an instrument where the maker's serial was to be read."""
    serial = _plain(said.get("serial"))
    for member in _INSTRUMENTS:
        is_known = serial in {_plain(each.get(member)) for each in visit}
        if serial and (is_known or serial == _plain(said.get(member))):
            yield Slip(
                "equipment-as-serial",
                "serial",
                str(said["serial"]),
                f"{said['serial']} is entered as the serial, and is the number of a"
                f" {words.of_field(member)}.",
                "Read the serial on the body of the cassette.",
                also=() if is_known else (member,),
            )
            return


def _half_a_day(
    said: Mapping[str, Any], visit: Iterable[Mapping[str, Any]], opened: datetime | None, now: datetime | None
) -> Iterator[Slip]:
    """A start far from every other one that lies among them on the other half of the day: it is wrong, or
    they are. One long before the form was opened, that day, that lies near to it or to now on the other half.
    """
    start = _start(said)
    others = sorted(found for each in visit if (found := _start(each)))
    if start is None or (others and _away(start, others) < FAR):
        return
    offset = Moment.parse(str(said["started"])).offset_minutes
    at, is_that_day = _clock(start, offset), opened and _day(opened, offset) == _day(start, offset)
    by_form = [each for each in (opened, now) if each] if is_that_day else []
    if others and (meant := _on_the_other_half(start, others)):
        first, last = (_clock(each, offset) for each in (others[0], others[-1]))
        beside = f"the others of the visit {f'at {first}' if first == last else f'from {first} to {last}'}"
        remedy = (
            f"Hours after noon go on to 24: {_clock(meant, offset)}. Others that are wrong are corrected."
        )
        if by_form and _away(start, by_form) <= NEAR:
            meant, remedy = None, f"By when the form was opened, {at} is right: correct the others."
    elif (
        by_form
        and by_form[0] - start > FAR
        and (meant := _on_the_other_half(start, by_form))
        and meant <= by_form[-1]
    ):
        beside = f"the form was opened at {_clock(by_form[0], offset)}"
        remedy = f"Hours after noon go on to 24: {_clock(meant, offset)}."
    else:
        return
    yield Slip(
        HALF_A_DAY_OFF,
        "started",
        str(said["started"]),
        f"The run would have started at {at}, and {beside}.",
        remedy,
        f"{Moment(meant, offset).local:%Y-%m-%d %H:%M}" if meant else "",
    )


def among_the_ink(
    said: Mapping[str, Any], form: str, known: Iterable[Mapping[str, Any]], ink: Iterable[datetime]
) -> Iterator[Slip]:
    """A start far from every other time on the sheet it is typed from, the last of them the signature, that
    lies among them on the other half of the day: `ink` are those that are no start of a run.
    """
    start = _start(said)
    runs = [found for each in known if each["form"] == form and (found := _start(each))]
    others = sorted([*runs, *ink])
    if start is None or _away(start, others) < FAR:
        return
    meant = _on_the_other_half(start, others)
    if meant and meant <= others[-1]:
        offset = Moment.parse(str(said["started"])).offset_minutes
        first, last = (_clock(each, offset) for each in (others[0], others[-1]))
        yield Slip(
            HALF_A_DAY_OFF,
            "started",
            str(said["started"]),
            f"The run would have started at {_clock(start, offset)}, and the other times on the sheet are"
            f" {f'at {first}' if first == last else f'from {first} to {last}'}.",
            f"Hours after noon go on to 24: {_clock(meant, offset)}.",
            f"{Moment(meant, offset).local:%Y-%m-%d %H:%M}",
        )


def _on_the_other_half(start: datetime, known: Iterable[datetime]) -> datetime | None:
    """The start twelve hours later or earlier, if it is near to one of these."""
    known = list(known)
    return next((at for at in (start + HALF_A_DAY, start - HALF_A_DAY) if _away(at, known) <= NEAR), None)


def _away(at: datetime, known: Iterable[datetime]) -> timedelta:
    return min(abs(each - at) for each in known)


def _clock(at: datetime, offset: int) -> str:
    return f"{Moment(at, offset).local:%H:%M}"


def _day(at: datetime, offset: int) -> date:
    return Moment(at, offset).local_date


def _start(said: Mapping[str, Any]) -> datetime | None:
    try:
        return Moment.parse(str(said.get("started"))).instant
    except BaileeError:
        return None  # whoever reads the statement says what is wrong with it


def _plain(number: object) -> str:
    return str(number or "").strip().casefold()
