"""Which questions a cassette needs, in which order, and what may be offered again: data for whoever asks.

What can be known is not asked: a lot by its label, a form by the visit, a start by the run.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final, get_args

from bailee.asking.question import AND_POINT, YES_NO, Ask, numbered, of_act
from bailee.domain.acts import form as form_acts
from bailee.domain.facts import choices

_OUTDOORS, _BLANK, _OTHER = "outdoors", "blank", "other"
_ROOMS: Final = tuple(each for each in get_args(form_acts.Room) if each not in (_OUTDOORS, _OTHER))

LABEL: Final = Ask("sample", "Number on the label: scan it, or type it", "sample")
"""On the screen before the signature; before the first question it is scanned."""
WHERE: Final = Ask(
    "where",
    "Where was it, and its point on the sketch (like 2 P3)",
    "where",
    (
        *numbered(_ROOMS),
        ("x", _OTHER, "another room"),
        ("o", _OUTDOORS, "outdoors"),
        ("b", _BLANK, "field blank, no air"),
    ),
    pointed=True,
)
"""Room, kind and point are one question: who says outdoors has said that it is the outdoor control."""

POINT: Final = Ask("point", "Point on the sketch, like P3", "point")
AREA: Final = Ask(
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
    numbered(choices(form_acts.Collected, "space_reason")),
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
    numbered(choices(form_acts.Cavity, "opening")),
)
_TUBE: Final = Ask("tube", "The tube was", "tube", numbered(choices(form_acts.Cavity, "tube")))
_COVERS: Final = Ask("covers_on", "Are the covers back on?", "covers on", YES_NO)
_DISTANCE: Final = Ask("distance_m", "Distance from the building, like 12 ft", "distance", reader="length")
_SKY: Final = Ask("sky", "Sky", "sky", numbered(choices(form_acts.Weather, "sky")))
_WIND: Final = Ask("wind", "Wind", "wind", numbered(choices(form_acts.Weather, "wind")))
_NEAR: Final = Ask(
    "near",
    "Near the inlet (several with commas)",
    "near",
    (
        *numbered(tuple(each for each in get_args(form_acts.Nearby) if each != "none")),
        ("0", "none", "none of these"),
    ),
    several=True,
)


def cassette(said: Mapping[str, Any], *, has_points: bool = False) -> tuple[Ask, ...]:
    """What is asked about one cassette once its number is known. `where` decides about the rest. Where other
    samples of the visit have points on the sketch (`has_points`), the outdoor control has one (SL-09).
    """
    if said.get("where") is None:
        return (WHERE,)
    where, _, point = str(said["where"]).partition(AND_POINT)
    if where == _BLANK:
        return of_act(form_acts.Collected, (WHERE, _SERIAL, _COVERS))
    why = (_WHY_THERE,) if (said.get("space") or where) in _UNCONDITIONED else ()
    height = (_OPENING, _TUBE) if where == "wall_cavity" else (_HEIGHT,)
    is_pointed = where == _OTHER or (has_points and where == _OUTDOORS)
    place = (POINT,) if is_pointed and not point else ()
    rest = (_DISTANCE, _NEAR, _SKY, _WIND) if where == _OUTDOORS else (AREA, *why)
    asks = (WHERE, *place, *rest, _SERIAL, _PUMP, _METER, *height, _BEFORE, _RUN, _AFTER, _COVERS)
    return of_act(form_acts.Collected, asks)


def room_of(said: Mapping[str, Any]) -> str:
    """The room of an answer to `WHERE`, or as typed; empty when it is not known yet."""
    return str(said.get("where") or said.get("room") or "").partition(AND_POINT)[0]


def where_of(kind: str | None, room: str | None, point: str | None) -> str | None:
    """What was said of the place already, as an answer to `WHERE`; None when it has to be asked."""
    if kind == "blank":
        return _BLANK
    if kind == "outdoor":
        return _OUTDOORS
    return room or (_OTHER if kind and point else None) if kind else None


def at_point(where: str, point: str | None) -> str:
    """An answer to `WHERE` with its point as it is now; one without a point stays as it is."""
    room, has_point, _ = where.partition(AND_POINT)
    return f"{room}{AND_POINT}{point}" if has_point and point else where


def placed(where: str) -> dict[str, str]:
    """Kind, room and point of an answer to `WHERE`."""
    room, _, point = where.partition(AND_POINT)
    if room == _BLANK:
        return {"kind": "blank"}
    told = {"kind": "outdoor" if room == _OUTDOORS else "indoor", "room": room}
    return told | ({"point": point} if point else {})
