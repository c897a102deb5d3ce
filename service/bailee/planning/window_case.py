"""A shipping window from plain data: no ledger, no organizations, any holidays somebody lists.

    {"handed_over": "2026-11-25T16:30", "origin_zone": "America/New_York", "service_days": 1,
     "saturday_delivery": false, "cutoff": "17:00", "delivery_time": "10:30",
     "carrier_closed": ["us-federal"], "lab_zone": "America/Chicago",
     "lab_hours": {"mon": ["08:00-17:00"], …}, "lab_closed": ["us-federal", "2026-11-27"]}

`origin_zone`, `lab_zone`, `service_days`, `handed_over` and `lab_hours` are needed. Left out, nothing is
delivered on Saturdays, the cut-off is 17:00 at the origin, delivery 10:30 at the laboratory, and no day is
closed. Also: `collected`, start of the oldest run (the hold is judged then), `carrier_years` and `lab_years`,
the years for which a list of closed days is complete, and `id`, given back.

A year is known when a closed day in it is listed, or when `us-federal` stands in the list (then for the year
of the hand-over and the two after it); otherwise SH-12 warns.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Final

from bailee.domain.facts import Check, Facts, between
from bailee.domain.fields import ClockTime, Zone
from bailee.domain.moments import Moment, hours_between
from bailee.domain.opening_hours import delivery_window
from bailee.domain.opening_hours.calendars import FEDERAL, Calendar
from bailee.domain.opening_hours.delivery_window import DeliveryPlan, Route, Service
from bailee.errors import BadFacts, BadMoment, Malformed
from bailee.frozen import frozen
from bailee.rules import registry, transit
from bailee.rules.checks.envelope.window import of_a_window
from bailee.rules.registry import Finding

_OFFSET_SIGNS: Final = ("+", "-", "Z", "z")


def _id(value: object) -> str:
    return "" if value is None or type(value) in (str, int) else "write text or a whole number"


class _Case(Facts):
    """What can be read member by member.

    Moments and calendars are read with the sentences of their own modules.
    """

    id: Annotated[Any, Check(_id)] = None
    handed_over: str
    collected: str | None = None
    origin_zone: Zone
    service_days: Annotated[int, between(0, 30)]
    saturday_delivery: bool = False
    cutoff: ClockTime = transit.CUTOFF
    delivery_time: ClockTime = transit.DELIVERY
    carrier_closed: Any = ()
    carrier_years: Any = None
    lab_zone: Zone
    lab_hours: Any
    lab_closed: Any = ()
    lab_years: Any = None


@frozen
class Question:
    """One case, read: when it is handed over, by which route, and when the oldest run began, if that was
    told.
    """

    handed_over: Moment
    route: Route
    oldest: Moment | None


@frozen
class WindowAnswer:
    """What to expect, and what the rules say of it."""

    plan: DeliveryPlan
    findings: tuple[Finding, ...]


def read(data: object) -> Question:
    """Read one case. Raises `Malformed`, code `bad-case`, with every fault of it in `facts["errors"]`."""
    if not isinstance(data, dict):
        says = 'Write a case as an object, like {"handed_over": …}.'
        raise Malformed(says, code="bad-case", errors=[{"at": "", "says": says}])
    facts, errors = _read(data)
    bad = {fault["at"].split("/")[1] for fault in errors}
    moments: dict[str, Moment | None] = {}
    for name in ("handed_over", "collected"):
        moments[name] = _moment(data, name, bad, errors)
    near = moments["handed_over"]
    carrier = _calendar(data, "carrier", "origin_zone", near, bad, errors)
    lab = _calendar(data, "lab", "lab_zone", near, bad, errors)
    if errors or facts is None or near is None:
        listed = "; ".join(f"{fault['at']}: {fault['says']}" for fault in errors)
        raise Malformed(f"Correct the case: {listed}", code="bad-case", errors=errors)
    service = Service(
        f"{facts.service_days} day",
        facts.service_days,
        facts.saturday_delivery,
        facts.cutoff,
        facts.delivery_time,
    )
    return Question(near, Route(service, facts.origin_zone, carrier, lab), moments["collected"])


def answer(question: Question) -> WindowAnswer:
    """Plan the hand-over and judge it. Raises `Malformed`, code `never-open`."""
    plan = delivery_window.plan(question.handed_over, question.route)
    findings = sorted(
        of_a_window(question.handed_over, plan, question.route, question.oldest),
        key=lambda found: (registry.ORDER.index(found.severity), found.rule),
    )
    return WindowAnswer(plan, tuple(findings))


def told(data: object) -> dict[str, Any]:
    """One case answered as JSON: the window and its findings, or `errors` with every fault of the case."""
    given = {"id": data["id"]} if isinstance(data, dict) and isinstance(data.get("id"), (str, int)) else {}
    try:
        question = read(data)
        found = answer(question)
    except Malformed as error:
        return given | {"errors": error.facts.get("errors") or [{"at": "", "says": error.sentence}]}
    held = {"hold_h": f"{hours_between(question.oldest, found.plan.received):.2f}"} if question.oldest else {}
    return given | {
        "day0": found.plan.day0.isoformat(),
        "delivered": found.plan.delivered.text(),
        "received": found.plan.received.text(),
        **held,
        "findings": [
            {
                "rule": each.rule,
                "severity": each.severity,
                "sentence": each.sentence,
                "remedy": each.remedy,
                "acts": each.acts,
            }
            for each in found.findings
        ],
    }


def _read(data: Mapping[str, Any]) -> tuple[_Case | None, list[dict[str, str]]]:
    """What was read, and else every fault."""
    try:
        return _Case.read(data), []
    except BadFacts as error:
        return None, list(error.facts["errors"])


def _moment(data: Mapping[str, Any], name: str, bad: set[str], errors: list[dict[str, str]]) -> Moment | None:
    """A local time on the clocks of the origin; one with an offset says which of two such times is meant."""
    text = data.get(name)
    if not isinstance(text, str) or name in bad:
        return None
    said = text.strip().replace(" ", "T")
    zone = "UTC" if "origin_zone" in bad else data["origin_zone"]
    try:
        if any(sign in said[10:] for sign in _OFFSET_SIGNS):
            return Moment.shown_in(Moment.parse(said).instant, zone)
        return Moment.in_zone(said, zone)
    except BadMoment as error:
        errors.append({"at": f"/{name}", "says": error.sentence})
        return None


def _calendar(
    data: Mapping[str, Any],
    which: str,
    zone: str,
    near: Moment | None,
    bad: set[str],
    errors: list[dict[str, str]],
) -> Calendar:
    closed, years = data.get(f"{which}_closed", []), data.get(f"{which}_years")
    body = {
        # A zone that is wrong was told already, and must not hide what else is.
        "zone": "UTC" if zone in bad else data[zone],
        "hours": _spans(data.get("lab_hours", {})) if which == "lab" else {},
        "closed": closed,
        "years": _years(closed, near) if years is None else years,
    }
    try:
        return Calendar.from_data(body)
    except Malformed as error:
        errors.extend(
            {"at": f"/{which}_{fault['at'].removeprefix('/')}", "says": fault["says"]}
            for fault in error.facts["errors"]
        )
        return Calendar("UTC", {})


def _spans(hours: object) -> object:
    """One span of a day may stand without its list."""
    if not isinstance(hours, dict):
        return hours
    return {day: [spans] if isinstance(spans, str) else spans for day, spans in hours.items()}


def _years(closed: object, near: Moment | None) -> list[int]:
    listed = [item for item in closed if isinstance(item, str)] if isinstance(closed, list) else []
    named = {int(item[:4]) for item in listed if item[:4].isdigit() and item[:4].isascii()}
    if FEDERAL in listed and near is not None:
        named |= {near.local_date.year + n for n in range(3)}
    return sorted(year for year in named if 1990 <= year <= 2099)
