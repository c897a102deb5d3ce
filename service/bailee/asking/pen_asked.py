"""How a sheet filled in by pen is asked at a terminal: which of its columns, in which order, in which words.

What is typed is what stands on the paper. A column that follows from another one is not asked: a field blank
has no room, and where no time of a check is written there was none.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date
from typing import Final

from bailee.asking import cassette_steps, hand_over_steps, pen_sheet, visit_steps, written_times
from bailee.asking.pen_lines import Raw
from bailee.asking.pen_sheet import TICKED, Cell
from bailee.asking.question import YES_NO, Ask
from bailee.errors import BaileeError

HOW: Final = "Type what stands on the sheet; Enter where nothing stands."

_ENTER: Final = re.compile(r" \((?:Enter: [^)]*|u not known)\)")
_TIME: Final = "time like 9:12"
_STEPS: Final[Mapping[str, str]] = {
    ask.member: _ENTER.sub("", ask.question)
    for ask in (
        *cassette_steps.cassette({"where": "bedroom"}),
        *cassette_steps.cassette({"where": "outdoors"}, has_points=True),
        *visit_steps.visit({"fresh_air": "off"}),
        *visit_steps.conditions("outdoors"),
        *visit_steps.REQUEST,
        hand_over_steps.SECURED,
        hand_over_steps.STANDS,
        hand_over_steps.PURPOSE,
    )
}
"""As it is asked on site, by its member."""
_OWN: Final[Mapping[str, str]] = {
    "visit": "Day of the visit, like 2026-11-25",
    "zone": "Time zone of the site, like America/New_York",
    "firm": "Sampling firm (short name)",
    "lab": "Laboratory (short name)",
    "project": "Name or number of the project",
    "analysis": "Analysis wanted, like spore count",
    "turnaround": "Turnaround wanted, like 2 days",
    "through": "Was a cassette in the line at the check?",
    "before_at": f"Check of the pump before the runs, {_TIME} (Enter: none)",
    "before": "Flow read at the check before the runs, L/min",
    "after_at": f"Check of the pump after the runs, {_TIME} (Enter: none)",
    "after": "Flow read at the check after the runs, L/min",
    "in_at": f"Air read indoors, {_TIME} (Enter: not read)",
    "in_c": "Temperature indoors, like 20 C or 68 F",
    "in_pct": "Relative humidity indoors, %",
    "out_at": f"Air read outdoors, {_TIME} (Enter: not read)",
    "out_c": "Temperature outdoors, like 20 C or 68 F",
    "out_pct": "Relative humidity outdoors, %",
    "sample": "Number on the label: scan it, or type it",
    "kind": "What it is",
    "room": "In which room",
    "start": f"Start of the run, {_TIME}",
    "remarks": "Photo or remarks, in words",
    "duplicate": "Duplicate of which row of this sheet, like 3",
    "from": f"Secured from, {_TIME}",
    "until": f"Secured until, {_TIME}",
    "count": "Samples counted by the second person",
    "to": "Relinquished to which organization (short name)",
}
_OF_A_LINE: Final[Mapping[tuple[str, str], str]] = {
    ("K", "where"): "Where are they",
    ("L", "date"): "Signed in ink on which day, like 2026-12-01",
    ("L", "time"): f"Signed in ink at, {_TIME}",
    ("N", "time"): f"Relinquished at, {_TIME} (Enter: not relinquished)",
    ("N", "date"): "Relinquished on which day, like 2026-12-01 (Enter: day of the visit)",
}
_ORDER: Final[Mapping[str, Sequence[str]]] = {
    "I": ("pump", "meter", "before_at", "before", "after_at", "after", "through"),
}
"""Where it is not that of the columns."""
_FOLLOWS: Final[Mapping[str, Mapping[str, tuple[str, ...]]]] = {
    "H": {"fresh_air_off": ("fresh_air",)},
    "I": {"before": ("before_at",), "after": ("after_at",), "through": ("before_at", "after_at")},
    "J": {
        "in_c": ("in_at",), "in_pct": ("in_at",), "out_c": ("out_at",), "out_pct": ("out_at",),
        "rain": ("out_at",),
    },
    "K": {"where": ("kept",), "from": ("kept",), "until": ("kept",)},
    "L": {"utc": ()},
    "N": {"to": ("time",), "purpose": ("time",), "date": ("time",)},
}  # fmt: skip
"""Asked only where one of these is written on the line; never what is known by the zone."""
_TIMES: Final = ("before_at", "after_at", "in_at", "out_at", "start", "from", "until", "time")
"""Columns of a time, on the clocks of the site: of the day of the visit, or with its own."""
_OF_KIND: Final[Mapping[str, frozenset[str]]] = {
    "blank": frozenset(
        (
            "room", "area", "run", "height", "distance", "flow_before", "flow_after", "point", "near",
            "duplicate",
        )
    ),
    "outdoor": frozenset(("room", "area")),
    "indoor": frozenset(("distance",)),
}  # fmt: skip
"""What a cassette of this kind has not, or what its kind has said already."""
_USUAL: Final = ("height", "flow_before")
"""Taken over from the row above, where nothing else is typed: equipment that stays, and never what was seen
or counted.
"""


def columns(line: str, said: Raw) -> list[str]:
    """The columns of a line that are asked for, in their order, by what was `said` of it so far."""
    follows = _FOLLOWS.get(line, {})
    has_not = _OF_KIND.get(_kind(said), frozenset()) if pen_sheet.is_cassette(line) else frozenset[str]()
    order = _ORDER.get(line) or [cell.column for cell in pen_sheet.cells(line)]
    return [
        column
        for column in order
        if column not in has_not
        and (column not in follows or any(said.get(each, "").strip() for each in follows[column]))
        and not (column == "fresh_air_off" and said.get("fresh_air") != "OFF")
    ]


def question(line: str, cell: Cell) -> Ask:
    """The question about a column: its letter, a sentence, numbered choices with the code on the paper."""
    words = _OF_A_LINE.get((line, cell.column)) or _OWN.get(cell.column) or _STEPS[cell.ask.member]
    choices = tuple(
        (n, code, says if cell.column in TICKED or key.lower() == says else f"{key} {says}")
        for n, (key, code, says) in _numbered(cell)
    )
    return replace(
        cell.ask, question=f"{line}  {words}", label=f"{line}  {cell.caption}",
        choices=YES_NO if cell.ask.is_yes_no else choices, reader="", optional=True, act="",
    )  # fmt: skip


def taken(cell: Cell, text: str) -> str:
    """What stands in a column, as a file has it: the code of a choice by its number, all else as typed.

    Raises `BaileeError` for what the column cannot be.
    """
    said = text.strip()
    if not said:
        return ""
    if cell.column in _TIMES:
        written_times.local(written_times.clock_letters(said)[0], date.min)
        return said
    if not cell.ask.choices:
        cell.ask.read(said)
        return said
    keys = [_key(cell, each.strip()) for each in (said.split(",") if cell.ask.several else [said])]
    return ",".join(keys)


def usual(column: str, above: Sequence[Raw]) -> str | None:
    """What is likely in a column by the rows `above`; None where nothing may be taken for likely."""
    if column not in _USUAL:
        return None
    return next((row[column] for row in reversed(above) if row.get(column, "").strip()), None)


def _numbered(cell: Cell) -> list[tuple[str, tuple[str, str, str]]]:
    """The choices of a column, each with its number: none of several is 0, as it is asked on site."""
    return [
        ("0" if cell.ask.several and choice[1] == "none" else str(n), choice)
        for n, choice in enumerate(cell.ask.choices, 1)
    ]


def _key(cell: Cell, said: str) -> str:
    choices = cell.ask.choices
    if chosen := next((key for n, (key, _, _) in _numbered(cell) if n == said), None):
        return chosen
    if cell.ask.is_yes_no and said.lower() in ("y", "n"):
        return "YES" if said.lower() == "y" else "NO"
    code = replace(cell.ask, several=False).read(said)
    return next(key for key, each, _ in choices if each == code)


def _kind(said: Raw) -> str:
    kind = next(cell for cell in pen_sheet.TABLE if cell.column == "kind")
    try:
        return str(kind.ask.read(said.get("kind", "")))
    except BaileeError:
        return ""
