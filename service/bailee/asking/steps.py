"""Which questions a step needs, in which order, and what may be offered again: data for whoever asks.

One question, one answer. What can be known is not asked: a lot by its label, a form by the visit, a start by
the run. An answer of the last cassette stays only where it describes equipment that does not change from
room to room, or the same room (`keeps`); what was seen or counted is asked each time and has no default
(RC-12 and ISO/IEC 17025:2017 7.4.3 by analogy: a condition is recorded as found).
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace
from typing import Any, Final, Literal, get_args

from bailee.asking import written
from bailee.domain import corrections, measures
from bailee.domain.acts import form as form_acts
from bailee.domain.acts.surface import SurfaceCollected
from bailee.domain.acts.table import name_of
from bailee.domain.facts import Facts, choices
from bailee.domain.fields import TAG, Secured
from bailee.errors import BaileeError, Malformed
from bailee.frozen import frozen
from bailee.presentation import words

MINUTES_TO: Final = 30
"""A bare number up to here answers in minutes; no run of a spore trap is so many seconds."""

_OUTDOORS, _BLANK, _OTHER = "outdoors", "blank", "other"
_AND_POINT: Final = "/"
_ENTER: Final = re.compile(r"\(Enter: ([^)]*)\)")


@frozen
class Ask:
    """One question about a member of an act.

    `choices` are key, code and words of what may be said; without them it is free text, read by `reader` (a
    name in `written`, or none). `several`: several choices, with commas. `optional`: Enter says nothing.
    `keeps`: it stays from one time to the next. `unknown`: that nobody knows it is an answer. `act`: whose
    fact of this name refuses what it cannot be.
    """

    member: str
    question: str
    label: str
    choices: tuple[tuple[str, str, str], ...] = ()
    reader: str = ""
    several: bool = False
    optional: bool = False
    keeps: bool = False
    unknown: bool = False
    act: str = ""

    @property
    def is_yes_no(self) -> bool:
        """Whether a yes or a no is all that is asked for."""
        return [code for _, code, _ in self.choices] == ["yes", "no"]

    @property
    def may(self) -> list[str]:
        """What may be chosen, each with its key."""
        told = [f"{key} {says}" for key, _, says in self.choices]
        return [*told, OR_UNKNOWN] if self.unknown else told

    def kept(self, last: Mapping[str, Any]) -> Any:
        """What stays of the `last` answers; None when it is to be asked."""
        return last.get(self.member) if self.keeps else None

    def read(self, text: str) -> Any:
        """What an answer means. Raises `Malformed` with what may be said."""
        said = text.strip()
        if not said:
            if self.optional:
                return None
            raise Malformed("Enter an answer: there is no usual one.", code="no-answer")
        if self.unknown and said.lower() in _UNKNOWN:
            return None
        if self.choices:
            if self is WHERE:
                return self._place(said)
            chosen = [self._choice(each) for each in (said.split(",") if self.several else [said])]
            return chosen if self.several else chosen[0]
        if self.reader == "run":
            value: Any = written.run(said, bare_minutes_to=MINUTES_TO)
        else:
            value = getattr(written, self.reader)(said) if self.reader else said
        if self.act:
            require_fact(self.act, self.member, said, value)
        return value

    def tells(self, value: Any) -> bool:
        """Whether an answer is shown in other words or with its unit."""
        return isinstance(value, str | list) and bool(self.choices or self.reader in _CONVERTED)

    def shown(self, value: Any) -> str:
        """An answer in words; of Enter the words that stood in the question."""
        if value is None:
            enter = _ENTER.search(self.question)
            return _UNKNOWN[-1] if self.unknown else enter[1] if enter else words.NOT_RECORDED
        told = {code: says for _, code, says in self.choices}
        if self is WHERE:
            room, _, point = str(value).partition(_AND_POINT)
            return f"{told[room]}{f', point {point}' if point else ''}"
        if self.choices:
            return ", ".join(told.get(each, str(each)) for each in (value if self.several else [value]))
        if self.reader == "run":
            return f"{int(value) // 60}:{int(value) % 60:02d} ({value} s)"
        if self.reader == "length":
            return measures.length_text(measures.parse_length(f"{value} m"))
        return f"{value}{_UNITS.get(self.reader, '')}"

    def _place(self, said: str) -> str:
        """A room, and after a blank its point on the sketch: `2 P3`."""
        try:
            return self._choice(said)
        except Malformed:
            room, _, point = said.partition(" ")
            if not re.fullmatch(TAG, point.strip()):
                raise
            return f"{self._choice(room)}{_AND_POINT}{point.strip()}"

    def _choice(self, said: str) -> str:
        word = " ".join(said.strip().lower().replace("_", " ").split())
        for key, code, says in self.choices:
            if word in (key.lower(), code.replace("_", " "), says.lower()):
                return code
        listed = ", ".join(f"{key} {says}" for key, _, says in self.choices)
        raise Malformed(f"{said.strip()!r} is none of: {listed}.", code="no-such-choice")


_UNKNOWN: Final = ("u", "unknown", "not known")
"""What is typed where nobody knows."""
OR_UNKNOWN: Final = f"{_UNKNOWN[0]} {_UNKNOWN[-1]}"
_UNITS: Final = {
    "flow": " L/min",
    "degrees_celsius": " \N{DEGREE SIGN}C",
    "hectopascals": " hPa",
}
_CONVERTED: Final = ("degrees_celsius", "hectopascals")
"""Readers that take another unit: what was made of it is shown."""


def _numbered(codes: tuple[str, ...]) -> tuple[tuple[str, str, str], ...]:
    return tuple((str(n), code, words.plain(code)) for n, code in enumerate(codes, 1))


def require_fact(act: str, member: str, said: str, value: Any) -> None:
    """Refuse what the act itself would refuse, while the other answers still wait for it: `value` is what was
    `said`. Raises `Malformed`.
    """
    for name in corrections.names(act):
        if name.rpartition(".")[2] == member:
            try:
                corrections.reader(act, name)(int(value) if isinstance(value, written.BareRun) else value)
            except BaileeError as error:
                why = error.sentence.removesuffix(".")
                raise Malformed(f"{said!r} will not do: {why}.", code="bad-answer") from None


def _of(act: type[Facts], asks: Iterable[Ask]) -> tuple[Ask, ...]:
    """Questions whose answers are facts of this act; a choice can be no other."""
    return tuple(ask if ask.choices else replace(ask, act=name_of(act)) for ask in asks)


_ROOMS: Final = tuple(each for each in get_args(form_acts.Room) if each not in (_OUTDOORS, _OTHER))
_YES_NO: Final = (("y", "yes", "yes"), ("n", "no", "no"))

LABEL: Final = Ask("sample", "Number on the label: scan it, or type it", "sample")
"""On the screen before the signature; before the first question it is scanned."""
WHERE: Final = Ask(
    "where",
    "Where was it, and its point on the sketch (like 2 P3)",
    "where",
    (
        *_numbered(_ROOMS),
        ("x", _OTHER, "another room"),
        ("o", _OUTDOORS, "outdoors"),
        ("b", _BLANK, "field blank, no air"),
    ),
)
"""Room, kind and point are one question: who says outdoors has said that it is the outdoor control."""

_POINT: Final = Ask("point", "Point on the sketch, like P3", "point")
_AREA: Final = Ask(
    "area",
    "Area",
    "area",
    (
        ("1", "complaint", "complaint"),
        ("2", "non_complaint", "non-complaint"),
        ("3", "reference", "reference"),
    ),
    keeps=True,
)
_UNCONDITIONED: Final = ("attic", "crawl_space", "garage", "wall_cavity")
_WHY_THERE: Final = Ask(
    "space_reason",
    "Why in an unconditioned space",
    "why there",
    _numbered(choices(form_acts.Collected, "space_reason")),
    keeps=True,
)
_SERIAL: Final = Ask(
    "serial", "Serial number molded on the cassette (Enter: there is none)", "serial", optional=True
)
_PUMP: Final = Ask("pump", "Pump number", "pump", keeps=True)
_METER: Final = Ask("meter", "Flow meter number", "flow meter", keeps=True)
_HEIGHT: Final = Ask("height_m", "Inlet above the floor, like 4 ft", "inlet", reader="length", keeps=True)
_BEFORE: Final = Ask("flow_before", "Flow before the run, L/min", "flow before", reader="flow", keeps=True)
_RUN: Final = Ask("run_s", "How long it ran: minutes like 5 or 5:00, or 300 s", "run", reader="run")
_AFTER: Final = Ask("flow_after", "Flow after the run, L/min", "flow after", reader="flow")
READ_OF_A_PUMP: Final = ("flow_before", "flow_after")
"""What was read of one pump, and is never that of another; the air at a check is that of the place."""
_OPENING: Final = Ask(
    "opening",
    "How did the tube get into the cavity",
    "opening",
    _numbered(choices(form_acts.Cavity, "opening")),
)
_TUBE: Final = Ask("tube", "The tube was", "tube", _numbered(choices(form_acts.Cavity, "tube")))
_COVERS: Final = Ask("covers_on", "Are the covers back on?", "covers on", _YES_NO)
_DISTANCE: Final = Ask("distance_m", "Distance from the building, like 12 ft", "distance", reader="length")
_SKY: Final = Ask("sky", "Sky", "sky", _numbered(choices(form_acts.Weather, "sky")))
_WIND: Final = Ask("wind", "Wind", "wind", _numbered(choices(form_acts.Weather, "wind")))
_NEAR: Final = Ask(
    "near",
    "Near the inlet (several with commas)",
    "near",
    (
        *_numbered(tuple(each for each in get_args(form_acts.Nearby) if each != "none")),
        ("0", "none", "none of these"),
    ),
    several=True,
)


CONDITIONS: Final = (
    Ask(
        "temperature_c",
        "Temperature of the air, like 20 C or 68 F (Enter: not read)",
        "temperature",
        reader="degrees_celsius",
        optional=True,
    ),
    Ask(
        "humidity_pct", "Relative humidity, % (Enter: not read)", "humidity", reader="decimal", optional=True
    ),
    Ask(
        "pressure_hpa",
        "Air pressure, like 1013 hPa or 29.9 inHg (Enter: not read)",
        "pressure",
        reader="hectopascals",
        optional=True,
    ),
)
RAIN_ENDED: Final = Ask(
    "rain_ended_h",
    "Hours since rain ended (Enter: not known)",
    "rain ended, h before",
    reader="decimal",
    optional=True,
)


def conditions(where: str) -> tuple[Ask, ...]:
    """What is asked about the air on site; of rain only outdoors."""
    asks = (*CONDITIONS, RAIN_ENDED) if where == "outdoors" else CONDITIONS
    return _of(form_acts.ConditionsRead, asks)


def building(member: Literal["was", "now"], what: str) -> Ask:
    """How something in a building was before it changed, or is now."""
    states = _numbered(form_acts.BUILDING_STATES[what])
    if member == "now":
        return Ask("now", f"{words.plain(what).capitalize()} now", "now", states)
    return Ask(
        "was", f"{words.plain(what).capitalize()} before (Enter: not known)", "before", states, optional=True
    )


def cassette(said: Mapping[str, Any], *, has_points: bool = False) -> tuple[Ask, ...]:
    """What is asked about one cassette once its number is known. `where` decides about the rest. Where other
    samples of the visit have points on the sketch (`has_points`), the outdoor control has one (SL-09).
    """
    if said.get("where") is None:
        return (WHERE,)
    where, _, point = str(said["where"]).partition(_AND_POINT)
    if where == _BLANK:
        return _of(form_acts.Collected, (WHERE, _SERIAL, _COVERS))
    why = (_WHY_THERE,) if (said.get("space") or where) in _UNCONDITIONED else ()
    height = (_OPENING, _TUBE) if where == "wall_cavity" else (_HEIGHT,)
    is_pointed = where == _OTHER or (has_points and where == _OUTDOORS)
    place = (_POINT,) if is_pointed and not point else ()
    rest = (_DISTANCE, _NEAR, _SKY, _WIND) if where == _OUTDOORS else (_AREA, *why)
    asks = (WHERE, *place, *rest, _SERIAL, _PUMP, _METER, *height, _BEFORE, _RUN, _AFTER, _COVERS)
    return _of(form_acts.Collected, asks)


def surface(medium: str) -> tuple[Ask, ...]:
    """What is asked about a sample of a surface once its number and medium are known. What is lifted by tape
    is read directly and not grown (common practice, no source).
    """
    by_area, by_mass = medium != "bulk", medium in ("bulk", "dust")
    asks = (
        _SURFACE_ROOM,
        _POINT_IF_ANY,
        _AREA,
        _MATERIAL,
        _LOOKED,
        *((_AREA_CM2,) if by_area else ()),
        *((_MASS_G,) if by_mass else ()),
        *((_WETTED,) if medium == "swab" else ()),
        _QUANTIFIED,
        *((_CULTURE,) if medium != "tape" else ()),
    )
    return _of(SurfaceCollected, asks)


_SURFACE_ROOM: Final = Ask("room", "Room", "room", _numbered(choices(SurfaceCollected, "room")))
_POINT_IF_ANY: Final = Ask(
    "point", "Point on the sketch, like P3 (Enter: there is none)", "point", optional=True
)
_MATERIAL: Final = Ask("material", "Material", "material", _numbered(choices(SurfaceCollected, "material")))
_LOOKED: Final = Ask(
    "surface", "How the surface looked", "surface", _numbered(choices(SurfaceCollected, "surface"))
)
_AREA_CM2: Final = Ask(
    "area_cm2",
    "Area lifted, wiped or vacuumed, square cm (Enter: not measured)",
    "area, cm\N{SUPERSCRIPT TWO}",
    reader="decimal",
    optional=True,
)
_MASS_G: Final = Ask("mass_g", "Mass, g (Enter: not weighed)", "mass, g", reader="decimal", optional=True)
_WETTED: Final = Ask("wetted", "The swab was", "swab", _numbered(choices(SurfaceCollected, "wetted")))
_QUANTIFIED: Final = Ask(
    "quantified", "Is a count or mass asked for, and not presence alone?", "count asked for", _YES_NO
)
_CULTURE: Final = Ask("culture", "Is it to be grown?", "culture", _YES_NO)


def room_of(said: Mapping[str, Any]) -> str:
    """The room of an answer to `WHERE`, or as typed; empty when it is not known yet."""
    return str(said.get("where") or said.get("room") or "").partition(_AND_POINT)[0]


def where_of(kind: str | None, room: str | None, point: str | None) -> str | None:
    """What was said of the place already, as an answer to `WHERE`; None when it has to be asked."""
    if kind == "blank":
        return _BLANK
    if kind == "outdoor":
        return _OUTDOORS
    return room or (_OTHER if kind and point else None) if kind else None


def at_point(where: str, point: str | None) -> str:
    """An answer to `WHERE` with its point as it is now; one without a point stays as it is."""
    room, has_point, _ = where.partition(_AND_POINT)
    return f"{room}{_AND_POINT}{point}" if has_point and point else where


def placed(where: str) -> dict[str, str]:
    """Kind, room and point of an answer to `WHERE`."""
    room, _, point = where.partition(_AND_POINT)
    if room == _BLANK:
        return {"kind": "blank"}
    told = {"kind": "outdoor" if room == _OUTDOORS else "indoor", "room": room}
    return told | ({"point": point} if point else {})


_HOURS: Final = "hours before the first sample"
_FRESH_AIR: Final = Ask(
    "fresh_air",
    "Fresh-air exchanger, whole-house or attic fan",
    "fresh air",
    _numbered(choices(form_acts.Preparation, "fresh_air")),
    unknown=True,
)
_FRESH_AIR_OFF: Final = Ask(
    "fresh_air_off_h",
    f"Off for how many {_HOURS} ({OR_UNKNOWN})",
    "fresh air off, h",
    reader="decimal",
    unknown=True,
)
_ANALYSIS: Final = Ask(
    "analysis", f"Analysis wanted, like spore count ({OR_UNKNOWN})", "analysis", keeps=True, unknown=True
)
_TURNAROUND: Final = Ask(
    "turnaround", f"Turnaround wanted, like 2 days ({OR_UNKNOWN})", "turnaround", keeps=True, unknown=True
)


def _as_before(ask: Ask, question: str) -> Ask:
    return replace(ask, question=f"{question} (Enter: as before)", optional=True, unknown=False)


REQUEST: Final = _of(
    form_acts.Requested,
    (
        _as_before(_ANALYSIS, "Analysis wanted, like spore count"),
        _as_before(_TURNAROUND, "Turnaround wanted, like 2 days"),
        Ask(
            "due",
            "Last day for the result, like 2026-12-07 (Enter: none)",
            "due",
            reader="day",
            optional=True,
        ),
        Ask(
            "priority",
            "Priority (Enter: none)",
            "priority",
            _numbered(choices(form_acts.Requested, "priority")),
            optional=True,
        ),
        Ask("purchase", "Number of your purchase order (Enter: none)", "purchase order", optional=True),
        Ask("cost_center", "Cost center (Enter: none)", "cost center", optional=True),
    ),
)
"""What is asked of a laboratory, where nothing was typed."""
_VISIT: Final = (
    Ask("site", "Address of the site (kept out of the log)", "site", optional=True),
    Ask("client", "Client (kept out of the log)", "client", optional=True),
    Ask("question", "What should the samples answer (kept out of the log)", "question", optional=True),
    Ask(
        "ventilation",
        "Ventilation as found",
        "ventilation",
        _numbered(choices(form_acts.Preparation, "ventilation")),
    ),
    Ask(
        "windows_closed_h",
        f"Windows and doors closed, {_HOURS} ({OR_UNKNOWN})",
        "windows closed, h",
        reader="decimal",
        unknown=True,
    ),
    Ask(
        "purifiers_off_h",
        f"Air cleaners off, {_HOURS} (Enter: none, or not known)",
        "air cleaners off, h",
        reader="decimal",
        optional=True,
    ),
    Ask(
        "cleaned_h_ago",
        f"Last cleaning, {_HOURS} (Enter: none, or not known)",
        "cleaned, h ago",
        reader="decimal",
        optional=True,
    ),
)


def visit(said: Mapping[str, Any]) -> tuple[Ask, ...]:
    """What is asked about a visit once its laboratory and zone are known: what is found on arrival, and what
    the laboratory is asked for.
    """
    off = (_FRESH_AIR_OFF,) if said.get("fresh_air") == "off" else ()
    return _of(form_acts.Opened, (*_VISIT, _FRESH_AIR, *off, _ANALYSIS, _TURNAROUND))


def license_of(said: Mapping[str, Any], needing: Collection[str]) -> tuple[Ask, ...]:
    """What is asked about the license to sample at a site, by the firm's list of where one is needed
    (VP-06).
    """
    if not needing:
        return ()
    question = f"Whose law applies at the site; a license is needed in {', '.join(sorted(needing))}"
    where = Ask("jurisdiction", f"{question} (Enter: not known)", "jurisdiction", optional=True)
    return (where, *_LICENSE) if as_listed(said.get("jurisdiction"), needing) in needing else (where,)


def as_listed(jurisdiction: str | None, needing: Collection[str]) -> str | None:
    """A jurisdiction as the firm's list spells it, where it is in it: `us-ny` is its `US-NY`."""
    said = (jurisdiction or "").casefold()
    return next((each for each in needing if each.casefold() == said), jurisdiction)


_LICENSE: Final = (
    Ask(
        "license",
        "Number of your license there (Enter: none; VP-06 will stop it)",
        "license",
        optional=True,
    ),
    Ask(
        "license_valid_to",
        "Its expiration date, like 2027-06-30 (Enter: none on it)",
        "license valid to",
        reader="day",
        optional=True,
    ),
)


_HAS_NO_BODY: Final = {"tape": ("cracked", "cover_off")}
"""Conditions that a medium cannot be in; the others keep their numbers."""


def condition(number: str, medium: str | None = None) -> Ask:
    """The condition of one sample as received: a cassette, or of a surface by its medium."""
    can_be = _numbered(get_args(form_acts.Condition))
    return Ask(
        f"condition/{number}",
        f"{number} condition",
        f"condition of {number}",
        tuple(each for each in can_be if each[1] not in _HAS_NO_BODY.get(medium or "", ())),
        several=True,
    )


def count_by_hand(form: str) -> Ask:
    """How many were counted at a transfer, of one form where there are several."""
    which = f" of form {form}" if form else ""
    return Ask(
        f"count/{form}" if form else "count",
        f"Samples{which} counted (Enter: not counted)",
        label="counted",
        reader="whole",
        optional=True,
    )


PACKAGE: Final = Ask(
    "package",
    "Package (several with commas)",
    "package",
    _numbered(get_args(form_acts.Package)),
    several=True,
)
SEAL_READ: Final = Ask("seal", 'Number as read on the seal ("none" if there is none)', "seal as read")
SEAL_STATE: Final = Ask("seal_state", "Seal", "seal", _numbered(choices(form_acts.Dock, "seal_state")))
RECORD_INSIDE: Final = Ask("record_enclosed", "Is the custody record inside?", "record inside", _YES_NO)
TEMPERATURE: Final = Ask(
    "temperature_c",
    "Temperature inside on opening, like 20 C or 68 F (Enter: not measured)",
    "temperature",
    reader="degrees_celsius",
    optional=True,
    act=name_of(form_acts.Received),
)
SEAL_NUMBER: Final = Ask("seal", "Number on the custody seal", "seal", reader="seal_number")
ACROSS: Final = Ask("across_opening", "Is the seal across the opening?", "across the opening", _YES_NO)
ENCLOSED: Final = Ask("record_enclosed", "Is the custody record in the envelope?", "record enclosed", _YES_NO)
CONTAINERS: Final = Ask(
    "containers",
    "Bags or boxes, from outside (Enter: not counted)",
    "containers",
    reader="whole",
    optional=True,
)
PURPOSE: Final = Ask("purpose", "Purpose of the transfer", "purpose", _numbered(get_args(form_acts.Purpose)))
PURPOSE_RECEIVED: Final = Ask(
    "purpose",
    "Purpose of the transfer (Enter: as the other person entered it)",
    "purpose",
    PURPOSE.choices,
    optional=True,
)
"""One of the two persons names it (CU-17)."""
CARRIER: Final = Ask("carrier", 'Carrier, or "by hand"', "carrier", act=name_of(form_acts.Shipped))
NOMINAL_FLOW: Final = Ask("nominal_flow", "Flow the maker states, L/min", "nominal flow", reader="flow")
SERVICE: Final = Ask("service", "Service, like next day", "service", act=name_of(form_acts.Shipped))
DAYS: Final = Ask("service_days", "Working days in transit", "working days", reader="days")
TRACKING: Final = Ask(
    "tracking",
    "Tracking number (a carrier needs one; only hand-carried goes without)",
    "tracking",
    optional=True,
    act=name_of(form_acts.Shipped),
)
CLASSIFIED: Final = Ask(
    "classified",
    "Transport class as the shipper decided, or Enter",
    "transport class",
    _numbered(get_args(form_acts.Transport)),
    optional=True,
)
COURIER: Final = (
    Ask("courier_name", "Name of the person who carries it (Enter: not named)", "carried by", optional=True),
    Ask("slip", "Number of the receipt slip they signed (Enter: none)", "receipt slip", optional=True),
    Ask("expected", "When it is expected at the dock (Enter: not entered)", "expected", optional=True),
)
RELATION: Final = Ask(
    "relation", "What they are to the firm", "relation", _numbered(choices(form_acts.Courier, "relation"))
)
SECURED: Final = Ask("secured", "How is it secured", "secured", _numbered(get_args(Secured)))
STANDS: Final = Ask("where", "Where", "where", _numbered(get_args(form_acts.Whereabouts)))
SEAL_SEEN: Final = Ask("seal_state", "Seal", "seal", _numbered(get_args(form_acts.SealSeen)))
SEAL_OPENED: Final = Ask("seal", "Number read on the seal", "seal as read")
REASONS: Final = Ask(
    "reasons",
    "Reasons (several with commas)",
    "reasons",
    _numbered(choices(form_acts.Decision, "reasons")),
    several=True,
)
RESAMPLE: Final = Ask(
    "resample",
    "Can a new sample be collected?",
    "new sample",
    _numbered(choices(form_acts.Decision, "resample")),
)
KEEP_UNTIL: Final = Ask(
    "keep_until",
    "Keep until, like 2027-03-01 (Enter: as before)",
    "keep until",
    reader="day",
    optional=True,
    act=name_of(form_acts.Stored),
)


def from_store(known: Iterable[str]) -> Ask:
    """Out of which store; those in which something lies are offered by number."""
    choices = tuple((str(n), store, store) for n, store in enumerate(known, 1))
    return Ask("store", "Which store", "store", choices, act=name_of(form_acts.Withdrawn))


FIRST_NUMBER: Final = Ask("first", "Your number for the first of them, like 26-10412", "first number")
COUNTED: Final = Ask("total", "Samples counted by hand", "count by hand", reader="whole")
