"""The acts that are entered from a sheet filled in by pen, line by line, and the slips in them.

Each act is well formed by its own class, and asked about by the same slips as one that is typed on site.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime
from decimal import Decimal
from typing import Any, Final

from bailee.asking import pen_sheet, run_slips, slips, unit_slips, visit_slips, written, written_times
from bailee.asking.pen_lines import PaperFault, Raw, Values, WrittenSheet
from bailee.asking.pen_sheet import Cell, is_cassette
from bailee.asking.slip import Slip, VisitSoFar
from bailee.domain import statements
from bailee.domain.acts.form import (
    Collected,
    ConditionsRead,
    Held,
    Opened,
    PumpChecked,
    Relinquished,
    Requested,
)
from bailee.domain.acts.table import done_at, name_of
from bailee.domain.fields import EDITION
from bailee.domain.moments import Moment
from bailee.errors import BadStatement, BaileeError, Malformed
from bailee.frozen import frozen


@frozen
class PaperEntry:
    """One act of a line, with what is kept out of the log."""

    line: str
    act: str
    data: Mapping[str, Any]
    private: Mapping[str, str | None]


def opening(lines: Mapping[str, Values], firm: str, zone: str) -> list[tuple[str, dict[str, Any]]]:
    """The acts of A to H: the visit, and what else is asked of the laboratory."""
    told = {
        cell.ask.member: lines[letter][cell.column] for letter in lines for cell in pen_sheet.HEAD[letter]
    }
    hours = {name: told[name] for name in ("windows_closed_h", "purifiers_off_h", "cleaned_h_ago")}
    found = _present({name: told[name] for name in ("ventilation", "fresh_air", "fresh_air_off_h")})
    opened = {
        "edition": EDITION,
        "parties": {"firm": told["firm"] or firm, "lab": told["lab"]},
        "visit": told["visit"],
        "zone": zone,
        **{name: told[name] for name in ("project", "analysis", "turnaround")},
        "preparation": hours | found if found.get("ventilation") else None,
    }
    asked = _present({name: told[name] for name in ("due", "purchase")})
    return [
        (name_of(Opened), _present(opened)),
        *([(name_of(Requested), asked)] if asked else ()),
    ]


def signed(day: date, zone: str, values: Values, now: datetime) -> Moment:
    """When the lines were signed in ink, by line L. Raises `BaileeError` with the column."""
    try:
        found = Moment.in_zone(written_times.local(values["time"], date.fromisoformat(values["date"])), zone)
    except BaileeError as error:
        raise _in("time", error) from error
    if values["utc"] and int(values["utc"].replace(":", "")) != int(found.text()[-6:].replace(":", "")):
        raise Malformed(
            f"the zone of the visit, {zone}, had {found.text()[-6:]} then: check zone and day.", column="utc"
        )
    if found.local_date < day:
        raise Malformed(f"it lies before the day of the visit, {day.isoformat()}.", column="date")
    if found.instant > now:
        there = Moment.shown_in(now, zone)
        is_today = found.local_date == there.local_date
        raise Malformed(
            f"it is still to come: at the site it is {there.local:%H:%M} on {there.local_date.isoformat()} by"
            " the clock of this device.",
            column="time" if is_today else "date",
        )
    return found


def entries(
    sheet: WrittenSheet, line: str, values: Values, said: Raw
) -> tuple[list[PaperEntry], list[PaperFault]]:
    """The acts of a line that could be read; or why it cannot be entered."""
    try:
        made = [each for each in _MADE.get(line, _collected)(sheet, line, values) if each]
        for each in made:
            body = statements.parse(f"form/{sheet.name.partition('-')[0]}", each.act, each.data)
            done = done_at(body)
            if is_cassette(line) and done and sheet.written < done:
                raise Malformed(
                    f"the run would have ended at {done.local:%H:%M}, after line L was signed, at"
                    f" {sheet.written.clock}.",
                    column="start",
                )
    except BadStatement as error:
        members = {cell.ask.member: cell.column for cell in pen_sheet.cells(line)}
        faults = [
            (members.get(each["at"].rpartition("/")[2], "line"), each["says"])
            for each in error.facts["errors"]
        ]
    except BaileeError as error:
        faults = [(str(error.facts.get("column", "line")), error.sentence)]
    else:
        return made, []
    return [], [
        PaperFault(sheet.name, line, column, said.get(column, "").strip(), why) for column, why in faults
    ]


def slips_of(
    sheet: WrittenSheet, entry: PaperEntry, others: Sequence[Mapping[str, Any]], form: str, *,
    is_asked: bool = False,
) -> Iterator[tuple[str, Slip]]:  # fmt: skip
    """Slips of an act, each with the column it is about; `others` are the runs known beside it. One place for
    two samples is one only where somebody `is_asked`: elsewhere SL-08 finds it.
    """
    found: list[Slip] = []
    if entry.act == name_of(Collected):
        before = [each for each in others if each["sample"] == entry.data["sample"]]
        found += [slip for each in before[:1] for slip in run_slips.collected_already(each)]
        flow = (sheet.lot_of(entry.data["sample"]) or {}).get("nominal_flow")
        visit = VisitSoFar(sheet.day, sheet.zone)
        found += slips.collected(entry.data, visit, Decimal(flow) if flow else None)
        found += run_slips.beside(entry.data, form, others)
        among = visit_slips.among(entry.data, form, others)
        found += [each for each in among if each.code != visit_slips.HALF_A_DAY_OFF]
        found += visit_slips.among_the_ink(entry.data, form, others, sheet.ink)
        found += run_slips.at_one_point(entry.data, form, others) if is_asked else ()
    elif entry.act == name_of(PumpChecked):
        found += run_slips.pump_checked(entry.data)
    elif entry.act == name_of(ConditionsRead):
        found += unit_slips.temperatures(entry.data, "temperature_c")
    for slip in found:
        yield (
            _column(entry, slip.field),
            replace(slip, also=tuple(_column(entry, each) for each in slip.also)),
        )


def _column(entry: PaperEntry, member: str) -> str:
    """The column of a line that gave a member of its act."""
    of_act = _COLUMNS.get((entry.act, entry.data.get("when") or entry.data.get("where") or ""), {})
    cells: Iterable[Cell] = pen_sheet.cells(entry.line)
    return of_act.get(member) or next(
        (each.column for each in cells if each.ask.member == member), _TIMES.get(member, "line")
    )


_TIMES: Final = {"started": "start"}
_COLUMNS: Final[Mapping[tuple[str, str], Mapping[str, str]]] = {
    (name_of(PumpChecked), "after"): {"flow": "after"},
    (name_of(ConditionsRead), "outdoors"): {"temperature_c": "out_c", "humidity_pct": "out_pct"},
}
"""Where two acts come from one line: the columns of the second."""


def _present(data: Values) -> dict[str, Any]:
    return {name: value for name, value in data.items() if value is not None}


def _in(column: str, error: BaileeError) -> Malformed:
    return Malformed(error.sentence, code=error.code, column=column)


def _at(sheet: WrittenSheet, values: Values, column: str) -> Moment:
    try:
        return sheet.at(values[column], values.get("date"))
    except BaileeError as error:
        raise _in(column, error) from error


def _collected(sheet: WrittenSheet, line: str, values: Values) -> Iterator[PaperEntry]:
    lot = sheet.lot_of(values["sample"])
    if lot is None:
        raise Malformed(
            "no lot is on record for this number, so it was never issued: read the label again.",
            column="sample",
        )
    is_blank, is_outdoor = values["kind"] == "blank", values["kind"] == "outdoor"
    members = {
        cell.ask.member: values[cell.column] for cell in pen_sheet.TABLE if cell.column not in _NOT_FACTS
    }
    data = members | {
        "lot": lot["lot"],
        "started": _at(sheet, values, "start").text(),
        "run_s": values["run"] or 0,
        "room": "outdoors" if is_outdoor else values["room"],
        "covers_on": values["covers"] == "yes",
        "entered": "typed",
        "weather": dict(sheet.weather) if is_outdoor and sheet.weather else None,
        "pump": None if is_blank else sheet.pump,
        "meter": None if is_blank else sheet.meter,
        "duplicate_of": _twin(sheet, line, values["duplicate"]),
        "paper": sheet.paper(line),
    }
    yield PaperEntry(line, name_of(Collected), _present(data), {"note": values["remarks"]})


_NOT_FACTS: Final = ("start", "remarks", "duplicate")


def _twin(sheet: WrittenSheet, line: str, row: str | None) -> str | None:
    """The number on the row of which this is the duplicate. Raises `BaileeError` with the column."""
    if row is None:
        return None
    said = row.strip().removeprefix("#").strip()
    number = sheet.numbers.get(said, "").strip() if said != line else ""
    if not number:
        raise Malformed(
            "write the # of another row of this sheet, one with a sample number.", column="duplicate"
        )
    try:
        return written.sample_number(number)
    except BaileeError as error:
        raise _in("duplicate", error) from error


def _checks(sheet: WrittenSheet, line: str, values: Values) -> Iterator[PaperEntry]:
    for when in ("before", "after"):
        if values[when] is not None:
            at = _at(sheet, values, f"{when}_at")
            data = {
                "pump": values["pump"], "meter": values["meter"], "at": at.text(), "flow": values[when],
                "when": when, "through_cassette": values["through"] == "yes", "paper": sheet.paper(line, at),
            }  # fmt: skip
            yield PaperEntry(line, name_of(PumpChecked), data, {})


def _air(sheet: WrittenSheet, line: str, values: Values) -> Iterator[PaperEntry]:
    for where, at_, c, pct, rain in (
        ("indoors", "in_at", values["in_c"], values["in_pct"], None),
        ("outdoors", "out_at", values["out_c"], values["out_pct"], values["rain"]),
    ):
        if any(each is not None for each in (c, pct, rain)):
            at = _at(sheet, values, at_)
            data = {
                "at": at.text(), "where": where, "temperature_c": c, "humidity_pct": pct,
                "rain_ended_h": rain, "paper": sheet.paper(line, at),
            }  # fmt: skip
            yield PaperEntry(line, name_of(ConditionsRead), _present(data), {})


def _held(sheet: WrittenSheet, line: str, values: Values) -> Iterator[PaperEntry]:
    if values["kept"]:
        since = _at(sheet, values, "from")
        until = _at(sheet, values, "until") if values["until"] else None
        data = {
            "secured": values["kept"], "where": values["where"], "since": since.text(),
            "until": until.text() if until else None, "samples": list(sheet.samples),
            "paper": sheet.paper(line, max(sheet.written, since)),
        }  # fmt: skip
        yield PaperEntry(line, name_of(Held), _present(data), {})


def _given(sheet: WrittenSheet, line: str, values: Values) -> Iterator[PaperEntry]:
    if values["time"]:
        at = _at(sheet, values, "time")
        data = {
            "samples": list(sheet.samples), "to": values["to"], "purpose": values["purpose"],
            "at": at.text(), "paper": sheet.paper(line, at),
        }  # fmt: skip
        yield PaperEntry(line, name_of(Relinquished), _present(data), {})


_MADE: Final[Mapping[str, Callable[[WrittenSheet, str, Values], Iterator[PaperEntry]]]] = {
    "I": _checks,
    "J": _air,
    "K": _held,
    "N": _given,
}
"""The lines that become acts, beside those of the cassettes. A to H are the opening, L and M no act."""
