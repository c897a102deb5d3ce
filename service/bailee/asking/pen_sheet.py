"""The sheet that is filled in by pen where nothing else works: its lines A to N, the columns of its six
cassettes, the codes printed on it, and how what stands there is read.

No code is one letter or has a digit, and none is another with one letter changed: in ink they must stay
apart. What is ticked on the paper is typed by its word or its code.

The paper is drawn from this, a terminal asks by it, a file of a script has these columns: one place for all
three. What is read of it becomes acts in `pen_entries`.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Final

from bailee.asking.question import Ask
from bailee.domain import numbers
from bailee.domain.acts import form as form_acts
from bailee.domain.acts.table import name_of
from bailee.domain.facts import Facts, plain
from bailee.errors import Malformed
from bailee.frozen import frozen
from bailee.presentation import words

LINES: Final = 6
"""Cassettes on a sheet."""

_YES_NO: Final = (("YES", "yes", "yes"), ("NO", "no", "no"))
TICKED: Final = ("ventilation", "fresh_air", "through", "kind", "covers", "kept")
"""Columns of few answers: on the paper a box to tick before each, and no code."""
ROOMS: Final = {
    "LIV": "living", "BED": "bedroom", "KIT": "kitchen", "BATH": "bathroom", "HALL": "hallway",
    "BSMT": "basement", "LAUN": "laundry", "OFCE": "office", "CLSS": "classroom", "MECH": "mechanical",
    "ATTC": "attic", "CRWL": "crawl_space", "GAR": "garage", "CAV": "wall_cavity", "OUT": "outdoors",
    "OTH": "other",
}  # fmt: skip
NEAR: Final = {
    "VENT": "supply_vent", "DOOR": "open_door", "FAN": "fan", "PLNT": "plants", "HEAP": "compost",
    "EXH": "exhaust", "BINS": "bins", "ROAD": "traffic", "EAVE": "eaves", "NONE": "none",
}  # fmt: skip
SKY: Final = {
    "FAIR": "clear", "CLDY": "cloudy", "OVC": "overcast", "RAIN": "rain", "FOG": "fog", "SNOW": "snow",
}  # fmt: skip
WHERE: Final = {
    "PERS": "person", "VEH": "vehicle", "OFCE": "office", "HOME": "home", "LAB": "laboratory", "OTH": "other",
}  # fmt: skip


@frozen
class Cell:
    """One blank of the sheet: the column that a fault and a file name, the words printed at it, how it is
    read. `unit` is printed after it.
    """

    column: str
    caption: str
    ask: Ask
    unit: str = ""


def _cell(
    column: str, caption: str, *, member: str = "", codes: Mapping[str, str] | None = None, reader: str = "",
    act: type[Facts] | None = None, needed: bool = False, several: bool = False, unit: str = "",
    yes_no: bool = False,
) -> Cell:  # fmt: skip
    choices = tuple((key, code, words.plain(code)) for key, code in (codes or {}).items())
    ask = Ask(
        member or column, caption, caption, choices or (_YES_NO if yes_no else ()), reader,
        several=several, optional=not needed, act=name_of(act) if act and not (choices or yes_no) else "",
    )  # fmt: skip
    return Cell(column, caption, ask, unit)


def _hours(column: str, caption: str, member: str, unit: str = "h") -> Cell:
    return _cell(column, caption, member=member, reader="decimal", act=form_acts.Opened, unit=unit)


_OPENED, _RUN, _AIR = form_acts.Opened, form_acts.Collected, form_acts.ConditionsRead
_CHECK = form_acts.PumpChecked

HEAD: Final[Mapping[str, tuple[Cell, ...]]] = {
    "A": (
        _cell("visit", "visit day", reader="day", act=_OPENED, needed=True),
        _cell("zone", "zone", reader="zone", act=_OPENED, needed=True),
    ),
    "B": (_cell("firm", "firm", act=_OPENED),),
    "C": (_cell("lab", "lab", act=_OPENED, needed=True),),
    "D": (_cell("project", "project", act=_OPENED),),
    "E": (_cell("analysis", "analysis", act=_OPENED),),
    "F": (
        _cell("turnaround", "turnaround", act=_OPENED),
        _cell("due", "due", reader="day", act=form_acts.Requested),
    ),
    "G": (_cell("purchase", "purchase", act=form_acts.Requested),),
    "H": (
        _cell(
            "ventilation", "ventilation",
            codes={"NORM": "normal", "OFF": "off", "CIRC": "fan_only", "NONE": "none", "OTH": "other"},
        ),
        _hours("windows", "windows closed", "windows_closed_h"),
        _hours("cleaners", "air cleaners off", "purifiers_off_h"),
        _cell("fresh_air", "fresh air", codes={"NONE": "none", "OFF": "off", "RUN": "running"}),
        _hours("fresh_air_off", "fresh air off", "fresh_air_off_h"),
        _hours("cleaned", "cleaned", "cleaned_h_ago", "h before"),
    ),
    "I": (
        _cell("pump", "pump", act=_CHECK),
        _cell("meter", "meter", act=_CHECK),
        _cell("through", "through cassette", member="through_cassette", yes_no=True),
        _cell("before_at", "before: time"),
        _cell("before", "L/min", member="flow", reader="flow", act=_CHECK),
        _cell("after_at", "after: time"),
        _cell("after", "L/min", member="flow", reader="flow", act=_CHECK),
    ),
    "J": (
        _cell("in_at", "indoors at"),
        _cell("in_c", "C or F", member="temperature_c", reader="degrees_celsius", act=_AIR),
        _cell("in_pct", "%", member="humidity_pct", reader="decimal", act=_AIR),
        _cell("out_at", "outdoors at"),
        _cell("out_c", "C or F", member="temperature_c", reader="degrees_celsius", act=_AIR),
        _cell("out_pct", "%", member="humidity_pct", reader="decimal", act=_AIR),
        _cell("sky", "sky", codes=SKY),
        _cell("wind", "wind", codes={"CALM": "calm", "LITE": "light", "STRG": "strong"}),
        _cell("rain", "rain ended", member="rain_ended_h", reader="decimal", act=_AIR, unit="h"),
    ),
}  # fmt: skip
"""Of the visit, before the cassettes: in the order of the letters."""

TABLE: Final = (
    _cell("sample", "sample", reader="sample_number", needed=True),
    _cell("serial", "serial", act=_RUN),
    _cell("kind", "kind", codes={"IN": "indoor", "OUT": "outdoor", "BLK": "blank"}, needed=True),
    _cell("room", "room", codes=ROOMS),
    _cell("area", "area", codes={"COMP": "complaint", "NOTC": "non_complaint", "REF": "reference"}),
    _cell("start", "start", needed=True),
    _cell("run", "run s", member="run_s", reader="run", act=_RUN),
    _cell("height", "height", member="height_m", reader="length", act=_RUN),
    _cell("distance", "dist", member="distance_m", reader="length", act=_RUN),
    _cell("flow_before", "before", reader="flow", act=_RUN),
    _cell("flow_after", "after", reader="flow", act=_RUN),
    _cell("covers", "covers", member="covers_on", yes_no=True, needed=True),
    _cell("point", "point", act=_RUN),
    _cell("near", "near", codes=NEAR, several=True),
    _cell("remarks", "photo, remarks", member="note"),
    _cell("duplicate", "dup. of #"),
)
"""Of one cassette."""

FOOT: Final[Mapping[str, tuple[Cell, ...]]] = {
    "K": (
        _cell(
            "kept", "secured", member="secured",
            codes={
                "HAND": "possession", "VIEW": "view", "LOCK": "locked", "RSTR": "restricted",
                "SEAL": "sealed",
            },
        ),
        _cell("where", "where", codes=WHERE),
        _cell("from", "from"),
        _cell("until", "until"),
    ),
    "L": (
        _cell("date", "date", reader="day", needed=True),
        _cell("time", "time", needed=True),
        _cell("utc", "UTC"),
    ),
    "M": (_cell("count", "I counted", reader="whole", unit="cassettes and read their numbers"),),
    "N": (
        _cell("time", "time"),
        _cell("to", "to"),
        _cell(
            "purpose", "purpose",
            codes={
                "TRAN": "transport", "SHIP": "shipping", "STOR": "storage", "ANA": "analysis",
                "BACK": "return", "OTH": "other",
            },
        ),
        _cell("date", "date", reader="day"),
    ),
}  # fmt: skip
"""Under the cassettes. Of the three rows of N the first is the inspector's own."""

_ROWS: Final = frozenset(map(str, range(1, LINES * 20 + 1)))


def numbers_of(page: int) -> tuple[str, ...]:
    """The lines of the cassettes on a page: they go on from the page before."""
    return tuple(str(n) for n in range(LINES * (page - 1) + 1, LINES * page + 1))


def is_cassette(line: str) -> bool:
    """Whether a line of a sheet is that of a cassette."""
    return line in _ROWS


def order(page: int) -> tuple[str, ...]:
    """Every line of a page, from top to bottom."""
    return (*HEAD, *numbers_of(page), *FOOT)


def cells(line: str) -> tuple[Cell, ...]:
    """The blanks of a line. Raises `Malformed` for a line that no sheet has."""
    found = TABLE if is_cassette(line) else HEAD.get(line) or FOOT.get(line)
    if found is None:
        raise Malformed(
            f"A sheet has no line {line!r}: its first page has {', '.join(order(1))}.", code="no-such-line"
        )
    return found


_NAME: Final = re.compile(r"(.+)-([0-9]{1,2})")


def named(text: str) -> tuple[str, int]:
    """Form and page of a sheet: the form's number, with -2 for its second page. Raises `BadNumber`."""
    found = _NAME.fullmatch(text.strip())
    return numbers.read(found[1] if found else text, "form"), int(found[2]) if found else 1


def name(form: str, page: int) -> str:
    """A sheet by the number of its form and its page."""
    return f"{form}-{page}"


def filled(opened: form_acts.Opened) -> dict[str, str]:
    """What is known of the visit, for the blanks of A to F, by column."""
    told = {**plain(opened), **plain(opened.parties)}
    known = [cell for line in _PRINTED for cell in HEAD[line]]
    return {cell.column: str(told[cell.ask.member]) for cell in known if told.get(cell.ask.member)}


_PRINTED: Final = ("A", "B", "C", "D", "E", "F")
