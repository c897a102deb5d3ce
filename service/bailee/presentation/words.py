"""The words of custody: one for each thing, on paper, on pages, at a terminal and in the verifier's report.

Programs exchange codes (`on_hold`, `void_showing`); people read what stands here. Nothing here asks a rule or
a clock, and nothing is imported that costs a cold start.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Final

from bailee.domain import measures
from bailee.domain.numbers import grouped

NOT_RECORDED: Final = "not recorded"
NOT_STATED: Final = "not stated"
WITHHELD: Final = "withheld"
NAME_WITHHELD: Final = "name withheld"
NONE: Final = "none"
NOT_NEEDED: Final = "not needed"

KINDS: Final = {
    "indoor": "indoor",
    "outdoor": "outdoor control",
    "blank": "field blank",
    "cavity": "cavity, not room air",
}
STATUSES: Final = {
    "announced": "not collected",
    "collected": "collected",
    "sealed": "sealed",
    "shipped": "shipped",
    "taken_in": "taken in unopened",
    "received": "received",
    "missing": "missing on receipt",
    "accepted": "accepted",
    "on_hold": "on hold",
    "rejected": "rejected",
    "forwarded": "forwarded",
    "disposed": "custody ended",
    "opened": "opened",
}
"""Where a sample stands; `opened` is a form on which nothing stands yet."""
ARRIVED: Final = frozenset({"received", "accepted", "on_hold", "rejected", "disposed"})
"""A cassette that the laboratory had in hand."""
STOPPED: Final = {"on_hold": "ON HOLD", "rejected": "REJECTED"}
"""States in which nobody is to count, as they stand out on paper."""
NOT_WHOLE: Final = frozenset(
    {
        "broken", "missing", "VOID showing", "cracked", "cover off", "wet", "label unreadable",
        "label missing", "opened", "crushed", "torn",
    }
)  # fmt: skip
"""What a dock found of a seal, package or cassette that stands out on paper."""
VOID: Final = "void"
QUALIFIED: Final = "result qualified"
DEMO: Final = "Demo keys \u2014 not evidence"
INK_ON_ANOTHER: Final = "What was written by hand on an earlier print is not on this one: keep them together."

NO_AIR: Final = "no air drawn"
AMOUNT: Final = "Vol., L; area or mass"
"""How much there is of a sample: liters of air, or how much of a surface."""
NO_FLOW: Final = "no flow on record"
DAY_CHECK: Final = "day check"
ONE_READING: Final = "from one reading of the flow"
NO_OUTDOOR_YET: Final = "No outdoor control is on record yet."
LOT_UNKNOWN: Final = "lot not on record here"
NO_EXPIRATION: Final = "no expiration date on record"
NOT_SHIPPED: Final = "not shipped yet"

SECURED: Final = {
    "possession": "on the person",
    "view": "in view",
    "locked": "locked",
    "restricted": "in a restricted room",
    "sealed": "sealed",
}
"""The five ways of keeping custody."""
PLACE_ENOUGH: Final = frozenset({"possession", "sealed"})
"""Ways that already say where: with the holder, or inside the envelope."""
NO_WAY_RECORDED: Final = "No entry shows how it was secured."
NO_WAY_NOW: Final = "no entry shows how it is secured"
BEING_SEALED: Final = "being sealed"

RELATIONS: Final = {
    "employee": "employee",
    "client": "client",
    "lab_driver": "laboratory's driver",
    "hired": "hired courier",
    "other": "another relation",
}
"""What whoever carries an envelope by hand is to the firm."""
NOT_NAMED: Final = "name not recorded"
NO_SLIP: Final = "no receipt slip on record"
NO_COURIER_SIGNATURE: Final = (
    "No signature of the person who carried it on record; seal only for this stretch"
)

SEAL_STATES: Final = {
    "intact": "intact",
    "broken": "broken",
    "missing": "missing",
    "void_showing": "VOID showing",
    "not_looked_at": "not looked at",
}
STEPS: Final = {
    "collected": "collected",
    "transferred": "transferred",
    "shipped": "shipped",
    "taken_in": "taken in unopened",
    "received": "received at the dock",
    "forwarded": "forwarded",
    "put_away": "put into a store",
    "taken_out": "taken out of a store",
    "pending": "relinquished, not yet received",
}
"""How samples came to a holder."""

FROM_THE_AIR: Final = "Collected from the air on site"
FROM_A_SURFACE: Final = "Collected from surfaces on site"
NOT_SIGNED: Final = "Not signed"
NO_CARRIER_SIGNATURE: Final = "No carrier signature on record; seal and tracking number only"
UNTIL_OPENED: Final = "No transfer inside the laboratory on record; seal only until it was opened"
NO_STORE_SIGNATURE: Final = "A store signs nothing; its lock is the record of this stretch"
PENDING: Final = "Not yet received"
SAME_TRACE: Final = "the same trace under a new number"
HAND_CARRIED: Final = "hand-carried"
NO_TRACKING: Final = "no tracking number"
NO_SEAL_NUMBER: Final = "no seal number"
NOTHING_COLLECTED: Final = "No collection entry is on record here."
NOT_IN_ENVELOPE: Final = "not in the envelope when it was opened; no entry shows where it is"
HOLDER_ON_RECORD: Final = "the holder on record, as far as the entries here go"
ONLY_ISSUED: Final = "This number was issued; no collection entry is on record here."
NOBODY_HOLDS: Final = "No entry shows a holder of a sample of this form yet."

AREAS: Final = {
    "records": "Records",
    "custody": "Custody",
    "media": "Media and sampling",
    "comparison": "Outdoor comparison",
}
"""The four verdicts."""
NOT_CHECKED: Final = "Not checked"
_VERDICTS: Final = {
    "own log": "from this ledger only",
    "complete": "unaltered and complete",
    "intact": "unaltered",
    "not judged": "not judged",
    "broken": "do not verify",
    "flagged": "needs a decision",
    "noted": "warnings or notes only",
    "no fault found": "no fault found",
    "none": "nothing to judge",
}
TONES: Final = {
    "broken": "block",
    "none": "warn",
    "not judged": "warn",
    "flagged": "flag",
    "noted": "note",
    "own log": "",
    "complete": "",
    "intact": "",
    "no fault found": "",
}
"""How loud the state of a verdict is shown: as a finding of this severity, or as none."""
_BREAK: Final = "break in custody"
"""A chain of custody that broke was not altered.

The word for records would accuse the file of what happened to a seal.
"""
RECORDS: Final = {
    "complete and cosigned": "unaltered, complete and cosigned",
    "intact, not cosigned": "unaltered, not cosigned",
    "not all understood": "not all understood",
    "not under your keys": "not under your keys",
    "broken": "do not verify",
}
"""The records of a file, by the verifier's state. `Intact` is said of seals and cassettes alone."""

SEVERITIES: Final = {
    "refuse": ("Not recorded", "Not recorded", ""),
    "block": ("Stop", "Stops", "do not seal, ship or release until this is fixed or allowed by exception"),
    "flag": ("Flag", "Flags", "found after the fact; recorded, needs a decision"),
    "warn": ("Warning", "Warnings", "may proceed; signing acknowledges it; printed"),
    "note": ("Note", "Notes", "printed"),
}
"""By severity, the gravest first: its name, that of several, and what it means."""
NOT_FOLLOWED: Final = "Does not count"
NO_FINDINGS: Final = "No findings."
SEE_VERDICTS: Final = "See what was not checked."
NOW: Final = "Now"


def demo(origin: str) -> str:
    """What is said of a log whose name starts with `demo.`: it is for showing, its keys prove nothing.

    Empty for any other.
    """
    return DEMO if origin.startswith("demo.") else ""


def reprint(nth: int, at: str) -> str:
    """What stands on a paper for ink that was printed before; empty for the first print."""
    return f"REPRINT: print {nth}, {at}" if nth > 1 else ""


def severity(code: str) -> str:
    """The name of a severity."""
    return SEVERITIES[code][0]


def severity_meaning(code: str) -> str:
    """Its name, and what it means for whoever reads it."""
    name, _, meaning = SEVERITIES[code]
    return f"{name}: {meaning}" if meaning else name


def severity_count(code: str, number: int) -> str:
    """`1 stop`, `2 warnings`, `1 not recorded`."""
    one, many, _ = SEVERITIES[code]
    return f"{number} {(one if number == 1 else many).lower()}"


def verdict(area: str, state: str) -> str:
    """The state of one of the four verdicts."""
    return _BREAK if (area, state) == ("custody", "broken") else _VERDICTS[state]


def status(code: str, void: str | None = None, *, qualified: bool = False) -> str:
    """Where a sample stands.

    `void` is the code of the reason it was voided for, `qualified` what was decided about its result.
    """
    if void:
        return f"{VOID}: {plain(void)}"
    return f"{STATUSES[code]}, {QUALIFIED}" if qualified else STATUSES[code]


def condition(status_code: str, codes: Iterable[str]) -> str:
    """The condition of a cassette on receipt; empty before that, and when it did not arrive."""
    return listed(list(codes)) if status_code in ARRIVED else ""


def way(secured_by: str, where: str) -> str:
    """How it was secured, and where unless the way says it."""
    return (
        f"{SECURED[secured_by]}, {where}" if where and secured_by not in PLACE_ENOUGH else SECURED[secured_by]
    )


def plain(code: object) -> str:
    """A code, or the name of a member, as words.

    `crawl_space` is `crawl space`, `dock.seal` is `dock, seal`.
    """
    return "" if code is None else str(code).replace("_", " ").replace(".", ", ")


def of_field(member: str) -> str:
    """A member as a person at a prompt knows it, without its unit: `flow_after` is `flow after`."""
    return _FIELDS.get(member) or plain(_UNIT.sub("", member))


_UNIT: Final = re.compile(r"_(?:s|c|m|m3|pct|hpa)$")
_FIELDS: Final = {
    "after": "flow after",
    "at": "time",
    "before": "flow before",
    "date": "day",
    "in_c": "temperature indoors",
    "lab": "laboratory",
    "meter": "flow meter",
    "out_c": "temperature outdoors",
    "planned_s": "planned run",
    "point": "point on the sketch",
    "started": "start",
    "valid_to": "last day",
    "visit": "day of the visit",
}


def listed(codes: object) -> str:
    """Several codes as words, with commas between."""
    return ", ".join(map(plain, codes)) if isinstance(codes, (list, tuple)) else plain(codes)


def number(text: str) -> str:
    """A number in printed groups when it is one of ours, otherwise as it was printed."""
    return grouped(text) if len(text) == 12 and text.isalnum() and text.isupper() else text


def figure(value: Decimal | None) -> str | None:
    """A flow or a volume, rounded once, halves up, to two places."""
    return str(measures.rounded(value, 2)) if value is not None else None


def drawn(
    kind: str | None, volume: str | None, flow: str | None, *, once: bool = False, checked: str = ""
) -> str:
    """How much air was drawn, and at which mean flow; or why that is not known. `checked`: by which checks of
    the pump, where no flow was read for this run alone.
    """
    if volume is None:
        return NO_AIR if kind == "blank" else NO_FLOW
    at = f" at {flow} L/min" if flow else ""
    how = checked or (ONE_READING if once else "")
    return f"{volume} L{at}" + (f" ({how})" if how else "")


def day_check(before: Decimal | None, after: Decimal | None) -> str:
    """Flows of a pump that was checked for several runs: `15.00 / 14.60, day check`."""
    both = " / ".join(figure(flow) or NONE for flow in (before, after))
    return f"{both}, {DAY_CHECK}"


def apart(minutes: object) -> str:
    """How far the outdoor control is from its sample in time."""
    return f"{minutes} min apart"


def expiration(day: str | None) -> str:
    """The day a lot expires, the last on which it may be used."""
    return day or NO_EXPIRATION


def cassette(kind: str, nominal_flow: object, run_s: int) -> str:
    """What the maker says of a cassette: its kind, flow and time; of what draws no air its kind."""
    if not Decimal(str(nominal_flow)):
        return plain(kind)
    return f"{kind}, {nominal_flow} L/min for {run_s} s"


def carrier(name: str, service: str, *, by_hand: bool, saturday: bool = False) -> str:
    """Who takes an envelope, and how."""
    if by_hand:
        return HAND_CARRIED if name == service == "by hand" else f"{name}, {service}, {HAND_CARRIED}"
    return f"{name}, {service}" + (", Saturday delivery" if saturday else "")


def gap(duration: str) -> str:
    """The time between the two halves of a transfer."""
    return f"{duration} from relinquished to received."


def local_time(place: str) -> str:
    """By which clock the times of a paper are told."""
    return f"local time, {place}"


ANOTHER_CLOCK: Final = "[ ]: by another clock"
"""Of a time that stands in brackets."""


def parties(firm: str, lab: str) -> str:
    """Who samples and who analyzes; the firm does neither for the other."""
    return f"{Heading.FIRM.lower()} {firm}, {Heading.LABORATORY.lower()} {lab}"


def secured(how: str) -> str:
    """How samples were secured, after the label."""
    return f"{Heading.SECURED}: {how}"


def tracking(text: str | None) -> str:
    """By which number an envelope can be followed."""
    return text or NO_TRACKING


def left(*, by_hand: bool) -> str:
    """The heading of the moment at which it left."""
    return Heading.CARRIED if by_hand else Heading.SHIPPED


def seal_as_read(seal: str | None, state: str) -> str:
    """What the dock read on the seal, and how it was."""
    return f"{number(seal)}, {SEAL_STATES[state]}" if seal else f"{NONE}, {SEAL_STATES[state]}"


def containers(counted: int) -> str:
    """How many bags or boxes were counted."""
    return "1 container" if counted == 1 else f"{counted} containers"


def demo_in_latin(log: str) -> str:
    """The same for labels and cards, whose letters are Latin-1."""
    return demo(log).replace("\N{EM DASH}", "-")


SINCE_EACH: Final = "from the collection of each"
"""Since when samples that were collected one after the other were secured, if not before."""


def by_medium(air: str, surfaces: str) -> str:
    """The same fact of samples of air and of samples of surfaces."""
    return f"air samples: {air}; surface samples: {surfaces}"


def not_counted(*, giver: bool, receiver: bool) -> str:
    """Which side of a hand-over did not count the cassettes by hand; empty where nobody says so."""
    if giver and receiver:
        return "not counted by either"
    return (
        "not counted by the relinquishing person"
        if giver
        else "not counted by the receiving person"
        if receiver
        else ""
    )


class Heading:
    """The headings of facts, wherever a fact has one."""

    SAMPLE: Final = "Sample"
    KIND: Final = "Kind"
    WHERE: Final = "Where"
    LOT: Final = "Lot"
    LOT_DATED: Final = "Lot, expiration date"
    EXPIRATION: Final = "Expiration date"
    MAKER_LOT: Final = "Maker's lot"
    CASSETTE: Final = "Cassette"
    HAND_COUNTED: Final = "Counted"
    LOT_RECEIVED: Final = "Received"
    LOT_COUNTED: Final = "Left when last counted"
    ISSUED: Final = "Issued"
    RECALLED: Final = "Recalled"
    STARTED: Final = "Started"
    RUN: Final = "Run"
    FROM: Final = "Taken from"
    AMOUNT: Final = "Area or mass"
    FLOW: Final = "Mean flow"
    VOLUME: Final = "Volume"
    OUTDOOR: Final = "Outdoor control"
    STATUS: Final = "Status"
    HOLDER: Final = "Held by"
    SECURED: Final = "Secured"
    CONDITION: Final = "Condition on receipt"
    LAB_NUMBER: Final = "Laboratory's number"
    GAP: Final = "Gap"
    CUSTODY: Final = "Chain of custody"
    ISSUED_COPY: Final = "Copy issued"
    RELINQUISHED: Final = "Relinquished by"
    RECEIVED_BY: Final = "Received by"
    PURPOSE: Final = "Purpose"
    REQUEST: Final = "Analysis asked for, turnaround"
    FIRM: Final = "Sampling firm"
    LICENSE: Final = "License to sample"
    LABORATORY: Final = "Laboratory"
    BUILDING: Final = "Building on arrival"
    CONDITIONS: Final = "Conditions on site"
    REQUESTED: Final = "Requested of the laboratory"
    SEAL: Final = "Custody seal"
    SEALED: Final = "Sealed"
    COUNT: Final = "Count, and how"
    CARRIER: Final = "Carrier"
    COURIER: Final = "Hand-carried by"
    SLIP: Final = "Receipt slip"
    TRACKING: Final = "Tracking number"
    SHIPPED: Final = "Shipped (given to the carrier)"
    CARRIED: Final = "Shipped, hand-carried"
    EXPECTED: Final = "Expected receipt"
    TAKEN_IN: Final = "Taken in unopened"
    RECEIVED: Final = "Received at the dock"
    DELIVERED: Final = "Delivered"
    SEAL_READ: Final = "Seal as read at the dock"
    SEAL_TAKEN_IN: Final = "Seal as read when taken in"
    CONTAINERS: Final = "Containers counted"
    COUNTED: Final = "Counted at the dock"
    TEMPERATURE: Final = "Temperature inside on opening"
    FOUND: Final = "Found after the first opening"
    CLOSED_AGAIN: Final = "Closed again by the dock"
    PACKAGE: Final = "Package"
    MANIFEST: Final = "Manifest"
    QUALIFIED: Final = "Qualified results"
    TO_BE_QUALIFIED: Final = "To be printed with results"
    CALLED: Final = "Sampling firm called"


def over_qualifications(said: Iterable[str]) -> str:
    """The heading over what results are printed with: *qualified results* only where one of them is there."""
    from bailee.rules.wording import QUALIFIED_RESULT  # it brings all rules, and few forms need it

    results = any(each.startswith(QUALIFIED_RESULT) for each in said)
    return Heading.QUALIFIED if results else Heading.TO_BE_QUALIFIED


TAGS: Final[Mapping[str, str]] = {
    "project": "Project",
    "method": "Method",
    "analysis": "Analysis",
    "turnaround": "Turnaround",
}
"""What a visit was opened with, in the order it is shown."""
