"""What stands on a line of a sheet filled in by pen, or the fault that keeps it out."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from datetime import date, datetime
from typing import Any, Final

from bailee.asking import pen_sheet, written_times
from bailee.asking.pen_sheet import is_cassette
from bailee.domain.moments import Moment
from bailee.errors import BaileeError
from bailee.frozen import field, frozen

Raw = Mapping[str, str]
Values = Mapping[str, Any]

_OF_THE_DAY: Final[Mapping[str, Sequence[str]]] = {
    "I": ("before_at", "after_at"), "J": ("in_at", "out_at"), "K": ("from",),
}  # fmt: skip
"""Times of the day of the runs."""
_UTC: Final = re.compile(r"[+-](?:0\d|1[0-4]):?[0-5]\d")
_OF_A_CHECK: Final = ("pump", "meter", "through")
_NAMES: Final = "a check names pump, meter, time, and whether a cassette was in the line."
_WANTS: Final[Mapping[str, tuple[tuple[tuple[str, ...], tuple[str, ...], str], ...]]] = {
    "I": (
        (("before",), (*_OF_A_CHECK, "before_at"), _NAMES),
        (("after",), (*_OF_A_CHECK, "after_at"), _NAMES),
    ),
    "J": (
        (("in_c", "in_pct"), ("in_at",), "what was read of the air has a time."),
        (("out_c", "out_pct", "rain"), ("out_at",), "what was read of the air has a time."),
    ),
    "K": (
        (("kept", "where", "from", "until"), ("kept", "where", "from"), "it has a code, a place, a time."),
    ),
    "N": (
        (
            ("date", "time", "to", "purpose"),
            ("time", "to"),
            "a transfer names when, and to which organization.",
        ),
    ),
}  # fmt: skip
"""By line: where one of these columns is filled in, what else must be."""


@frozen
class PaperFault:
    """Why a line is not entered as it stands: by sheet, line and column; `said` is what stands there."""

    sheet: str
    line: str
    column: str
    said: str
    sentence: str

    @property
    def words(self) -> str:
        """As people read it."""
        said = f" {self.said!r}" if self.said else ""
        return f"Sheet {self.sheet}, line {self.line}, {self.column}{said}: {self.sentence}"

    def as_data(self) -> dict[str, str]:
        """For programs."""
        return {
            "sheet": self.sheet,
            "line": self.line,
            "column": self.column,
            "said": self.said,
            "sentence": self.sentence,
        }


@frozen
class WrittenSheet:
    """What holds for every line: its name, day and zone of the visit, when its lines were signed in ink (L),
    pump and meter (I), the sky (J), the picture of it, and of each cassette its lot, with the flow that it is
    made for. `samples` are those that are entered, for K and N, `numbers` what stands on each line
    of a cassette, for its duplicate. `times` are those that stand on the lines of pump, air and custody.
    """

    name: str
    day: date
    zone: str
    written: Moment
    lot_of: Callable[[str], Mapping[str, Any] | None]
    pump: str | None = None
    meter: str | None = None
    weather: Mapping[str, Any] = field(default_factory=dict)
    photo: Mapping[str, Any] | None = None
    samples: tuple[str, ...] = ()
    numbers: Mapping[str, str] = field(default_factory=dict)
    times: Sequence[Moment] = ()

    @property
    def ink(self) -> list[datetime]:
        """Every time on the sheet but those of the cassettes."""
        return [each.instant for each in (*self.times, self.written)]

    def at(self, text: str, day: str | None = None) -> Moment:
        """A time on the sheet: of this day, or of the visit's, or with its own. Raises `BadMoment`."""
        local, offset = written_times.clock_letters(text)
        found = written_times.local(local, date.fromisoformat(day) if day else self.day)
        return Moment.parse(f"{found}:00{offset}") if offset else Moment.in_zone(found, self.zone)

    def with_ink(self, heads: Mapping[str, Values | None]) -> WrittenSheet:
        """The sheet with the times that stand on its lines of pump, air and custody, as far as they can be
        read.
        """
        found = []
        for line, columns in _OF_THE_DAY.items():
            for text in filter(None, ((heads.get(line) or {}).get(each) for each in columns)):
                with suppress(BaileeError):  # it is told with its line
                    found.append(self.at(text))
        return replace(self, times=tuple(found))

    def paper(self, line: str, at: Moment | None = None) -> dict[str, Any]:
        """The member that says where an act was typed from."""
        told = {"sheet": self.name, "line": line, "written_at": (at or self.written).text()}
        return told | ({"photo": self.photo} if self.photo else {})


def read(sheet: str, line: str, said: Raw) -> tuple[dict[str, Any], list[PaperFault]]:
    """What stands in the columns of a line, as an act takes it, and what cannot be read."""
    values: dict[str, Any] = {}
    faults = []
    for cell in pen_sheet.cells(line):
        text = said.get(cell.column, "").strip()
        try:
            values[cell.column] = cell.ask.read(text)
        except BaileeError as error:
            faults.append(PaperFault(sheet, line, cell.column, text, error.sentence))
    if not faults:
        faults += [
            PaperFault(sheet, line, column, said.get(column, "").strip(), sentence)
            for column, sentence in _beside(line, values)
        ]
    return values, faults


def _beside(line: str, values: Values) -> Iterator[tuple[str, str]]:
    """What one column of a line wants of another."""
    for given, wanted, sentence in _WANTS.get(line, ()):
        if any(values[each] is not None for each in given):
            yield from ((column, sentence) for column in wanted if values[column] is None)
    if is_cassette(line) and values["kind"] != "blank" and values["run"] is None:
        yield "run", "it has no run time: write minutes and seconds, like 5:00."
    if (
        is_cassette(line)
        and values["room"]
        and (values["kind"] == "outdoor") != (values["room"] == "outdoors")
    ):
        yield "room", "kind and room do not agree: outdoor goes with OUT outdoors."
    if line == "H" and not values["ventilation"] and any(values[each] is not None for each in values):
        yield "ventilation", "what was found on arrival begins with the ventilation."
    if line == "L" and values["utc"] and not _UTC.fullmatch(values["utc"]):
        yield "utc", "write it like -05:00."
