"""What people say about the samples of one visit: the acts on `form/<number>`.

Names, addresses and free text are never members here: they travel as private fields beside the statement
(`client`, `site`, `contact`, `place`, `note`, …) and can be erased. Everything below is public to the parties
of the form.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Sequence
from dataclasses import field
from decimal import Decimal
from functools import cache
from typing import Annotated, Final, Literal

from bailee.domain import measures
from bailee.domain.facts import Facts, Json, Reads, at_least, between, like, sized
from bailee.domain.fields import (
    At,
    Celsius,
    Count,
    Day,
    Digest,
    EachOnce,
    Edition,
    EnvelopeNumber,
    FormNumber,
    Hectopascals,
    LotNumber,
    OrganizationId,
    Percent,
    Quantity,
    RuleId,
    SampleNumber,
    Samples,
    SealAsRead,
    SealNumber,
    Seconds,
    Secured,
    Tag,
    Zone,
    named_twice,
)  # fmt: skip
from bailee.errors import NOT_KNOWN, Malformed

SampleKind = Literal["indoor", "outdoor", "blank"]
Room = Literal[
    "living",
    "bedroom",
    "kitchen",
    "bathroom",
    "hallway",
    "basement",
    "laundry",
    "office",
    "classroom",
    "mechanical",
    "attic",
    "crawl_space",
    "garage",
    "wall_cavity",
    "outdoors",
    "other",
]
Space = Literal["conditioned", "attic", "crawl_space", "garage", "wall_cavity", "other"]
Area = Literal["complaint", "non_complaint", "reference"]
Nearby = Literal[
    "supply_vent", "open_door", "fan", "plants", "compost", "exhaust", "bins", "traffic", "eaves", "none"
]
Condition = Literal[
    "intact", "cracked", "cover_off", "wet", "label_unreadable", "label_missing", "opened", "not_looked_at"
]
Package = Literal["sound", "wet", "crushed", "torn", "opened", "not_looked_at"]
SealState = Literal["intact", "broken", "missing", "void_showing"]
SealSeen = Literal["intact", "broken", "missing", "void_showing", "not_looked_at"]
Whereabouts = Literal["person", "vehicle", "office", "home", "laboratory", "other"]
Transport = Literal["not_regulated", "excepted", "regulated"]
SentOn = Literal["opened", "stained", "cracked", "wet"]
PumpStop = Literal["battery", "blocked", "overheated", "fault", "other"]
BuildingState = Literal["normal", "off", "fan_only", "none", "other", "open", "closed", "running", "present"]
Purpose = Literal["transport", "shipping", "storage", "analysis", "return", "other"]

PICTURE: Final = r"image/[a-z0-9.+-]{1,40}"
_VOLUME_SLACK_L: Final = Decimal("0.1")
_SCAN_SLACK_S: Final = 1
"""Two scans whose times are cut to whole seconds may seem this much nearer than they were."""


class Parties(Facts):
    """Who may see and write this form: the firm that samples and the laboratory that counts."""

    firm: OrganizationId
    lab: OrganizationId

    def answers(self, org: str) -> bool:
        """Whether a party of the form is a laboratory: anybody but the sampling firm, unless that is both."""
        return org == self.lab or org != self.firm


class Preparation(Facts):
    """Answers found on arrival. Hours are hours before the first sample; `null` = none, or not known.

    `works_h_ago`: painting, demolition and the like. `fresh_air`: heat and energy recovery ventilators,
    whole-house and attic fans; `null` = not asked. `fresh_air_off_h`: for how long they had been off.
    """

    windows_closed_h: Quantity | None
    purifiers_off_h: Quantity | None
    ventilation: Literal["normal", "off", "fan_only", "none", "other"]
    cleaned_h_ago: Quantity | None
    works_h_ago: Quantity | None = None
    fresh_air: Literal["none", "off", "running"] | None = None
    fresh_air_off_h: Quantity | None = None

    def contradictions(self) -> Iterator[str]:
        """Hours off of what was not off."""
        if self.fresh_air_off_h is not None and self.fresh_air != "off":
            yield "fresh_air_off_h is for how long fresh air was off: write it with fresh_air off"


class License(Facts):
    """The license to sample at this site: where it counts, its number, its last good day.

    None held: no number.
    """

    jurisdiction: Tag
    number: Tag | None = None
    valid_to: Day | None = None


class Kit(Facts):
    """Cassettes carried, and how many of each kind are planned."""

    cassettes: Count
    indoor: Count
    outdoor: Count = 1
    blanks: Count = 0


class Opened(Facts):
    """A visit begins. Private fields: client, site, contact, question, note.

    `edition` is that of the rule book by which this form is judged for good. `question_given` says that the
    question was written down, without telling it; `plan` names the sampling plan. `remediator`: the firm also
    does the clearing-up here. `notice_sent`: when the occupants were told how to prepare.
    """

    edition: Edition
    parties: Parties
    visit: Day
    zone: Zone
    method: Tag | None = None
    project: Tag | None = None
    analysis: Tag | None = None
    turnaround: Tag | None = None
    preparation: Preparation | None = None
    license: License | None = None
    remediator: bool | None = None
    question_given: bool = False
    plan: Tag | None = None
    kit: Kit | None = None
    notice_sent: At | None = None
    visible_growth: bool | None = None
    growth_reason: (
        Literal["hidden_extent", "spread", "clearance", "dispute", "client_request", "other"] | None
    ) = None


class Weather(Facts):
    """What the sky did during the outdoor control."""

    sky: Literal["clear", "cloudy", "overcast", "rain", "fog", "snow"]
    wind: Literal["calm", "light", "strong"]
    snow_cover: bool = False
    mowing: bool = False


class Cavity(Facts):
    """Air drawn through a tube from inside a wall, floor or ceiling: no air of a room.

    `opening`: how the tube got in. `tube_m` is its length, `tube_mm` its inner diameter; `purge_s` for how
    long air was drawn through it before the cassette was put on. `side`: what kind of wall it is.
    """

    opening: Literal["drilled", "outlet", "gap", "removed"] | None = None
    tube: Literal["new", "cleaned", "used"] | None = None
    tube_m: Quantity | None = None
    tube_mm: Quantity | None = None
    purge_s: Seconds | None = None
    side: Literal["interior", "exterior"] | None = None


class Photo(Facts, keys={"sha_256": "sha-256"}):
    """A picture kept elsewhere, bound by its digest: SHA-256, size in bytes, media type."""

    sha_256: Digest
    size: Annotated[int, at_least(1)]
    type: Annotated[str, like(PICTURE, "the media type of a picture like image/jpeg")]


class OnPaper(Facts):
    """The line of a pen form that an entry was typed from: written with a pen at the time of the act.

    `sheet` is the form's number and the page, `line` the letter or number that stands before it, `photo` a
    picture of the page.
    """

    sheet: Tag
    line: Tag
    written_at: At
    photo: Photo | None = None


def wrongly_replaced(sample: str, replaces: str | None, form: str | None) -> Iterator[str]:
    """A sample that replaces itself, and a form on which nothing is replaced."""
    if replaces == sample:
        yield "replaces is the earlier sample, which this one is collected for: name that"
    if form is not None and replaces is None:
        yield "replaces_form is that of the sample in replaces: write both"


def on_paper(body: Facts) -> OnPaper | None:
    """The line that an act was typed from; None where it was entered as it was done."""
    paper: OnPaper | None = getattr(body, "paper", None)
    return paper


class Collected(Facts, keys={"typed_volume_l": "volume_l"}):
    """One cassette, opened, run, covered.

    Volume is computed from flow and seconds; one that was typed must agree with it.

    Flows in liters a minute as read, run in actual seconds, heights and distances in meters. Private: place,
    note. Where a pump was checked once for several cassettes, `pump_checked` says so.
    `stopped` is a scan at the end of the run, `near_m` the distance to the nearest thing in `near`,
    `gps_distance_m` how far from the site the device was, `unit` the flat or building sampled, `serves` those
    an outdoor control is declared to stand for. `temperature_c` and `pressure_hpa` are those of the flow
    check; `flow_corrected` that the flows are corrected for them. `timer_stop`: the pump's own timer ended
    the run. `replaces` is a sample that is not analyzed and in whose place this one was collected,
    `replaces_form` the form of that where it is another.
    """

    sample: SampleNumber
    lot: LotNumber
    kind: SampleKind
    started: At
    run_s: Seconds
    planned_s: Seconds | None = None
    covers_on: bool
    entered: Literal["scan", "typed"] = "scan"
    serial: Tag | None = None
    duplicate_of: SampleNumber | None = None
    replaces: SampleNumber | None = None
    replaces_form: FormNumber | None = None
    point: Tag | None = None
    room: Room | None = None
    space: Space | None = None
    space_reason: Literal["complaint_there", "source_there", "client_request", "other"] | None = None
    area: Area | None = None
    near: list[Nearby] = field(default_factory=list)
    height_m: Quantity | None = None
    distance_m: Quantity | None = None
    pump: Tag | None = None
    meter: Tag | None = None
    flow_before: Quantity | None = None
    flow_after: Quantity | None = None
    weather: Weather | None = None
    stopped: At | None = None
    pump_stop: PumpStop | None = None
    timer_stop: bool | None = None
    short_run: Literal["dust", "pump_stop", "access", "other"] | None = None
    typed_volume_l: Quantity | None = None
    temperature_c: Celsius | None = None
    pressure_hpa: Hectopascals | None = None
    flow_corrected: bool = False
    label_on: Literal["body", "cover", "bag"] | None = None
    label_prints: Count | None = None
    label_reprinted: Literal["unreadable", "damaged", "lost", "printer", "other"] | None = None
    photo: Photo | None = None
    gps_distance_m: Quantity | None = None
    near_m: Quantity | None = None
    dust: Literal["light", "moderate", "heavy"] | None = None
    aggressive: bool = False
    duplicate: Literal["side_by_side", "consecutive"] | None = None
    unit: Tag | None = None
    serves: list[Tag] = field(default_factory=list)
    cavity: Cavity | None = None
    paper: OnPaper | None = None

    @property
    def mean_flow(self) -> Decimal | None:
        """Mean of the flows read, L/min; the one reading when there is only one; None when none was taken."""
        flows = [flow for flow in (self.flow_before, self.flow_after) if flow is not None]
        return measures.mean_flow(flows[0], flows[-1]) if flows else None

    @property
    def volume_l(self) -> Decimal | None:
        """Liters drawn, exact: mean flow times actual seconds; None for a blank or without a flow."""
        flow = self.mean_flow
        return measures.volume_liters(flow, Decimal(self.run_s)) if flow is not None else None

    def contradictions(self) -> Iterator[str]:
        """A blank with air, a volume that does not follow from flow and time, scans that leave no room for
        the run, a cavity that is not in the building.
        """
        yield from wrongly_replaced(self.sample, self.replaces, self.replaces_form)
        if self.cavity and self.kind != "indoor":
            yield "a cavity is inside the building: write kind indoor, or leave cavity out"
        typed, drawn = self.typed_volume_l, self.volume_l
        air = self.run_s or self.flow_before is not None or self.flow_after is not None or typed
        if self.kind == "blank" and air:
            yield "a field blank draws no air: leave flow and volume out and write run_s 0 (BD-02)"
        elif typed and drawn is None:
            yield f"no flow on record, so {typed} L cannot be computed: leave volume_l out (PV-01)"
        elif typed is not None and drawn is not None and abs(typed - drawn) > _VOLUME_SLACK_L:
            yield (
                f"{self.mean_flow} L/min for {self.run_s} s are {measures.rounded(drawn, 2)} L and not"
                f" {typed} L: leave volume_l out, it is computed (PV-01)"
            )
        apart = (self.stopped.instant - self.started.instant).total_seconds() if self.stopped else None
        if apart is not None and apart + _SCAN_SLACK_S < self.run_s:
            yield (
                f"the scans at start and stop are {apart:.0f} s apart, and the run is {self.run_s} s: write"
                " the seconds as run (PV-09)"
            )


class PumpChecked(Facts):
    """The flow of a pump, checked once for several runs; said on each form of the day. Private: note.

    `when`: before, between or after them. `adjusted`: the pump was set for this reading, so it tells nothing
    of the runs before it. `through_cassette`: a cassette was in the line. Flow in liters a minute as read;
    `temperature_c`, `pressure_hpa`, `flow_corrected` as of `collected`. `timer_s`: what the pump's own timer
    took for a run that a watch measured as `watch_s`.
    """

    pump: Tag
    meter: Tag
    at: At
    flow: Quantity
    when: Literal["before", "between", "after"]
    through_cassette: bool
    adjusted: bool = False
    temperature_c: Celsius | None = None
    pressure_hpa: Hectopascals | None = None
    flow_corrected: bool = False
    timer_s: Seconds | None = None
    watch_s: Seconds | None = None
    paper: OnPaper | None = None

    def contradictions(self) -> Iterator[str]:
        """A timer without the watch that it was compared with, or the other way."""
        if (self.timer_s is None) != (self.watch_s is None):
            yield "timer_s and watch_s are one comparison: write both, or neither"


class OutdoorRuledOut(Facts):
    """No outdoor control can be collected here, and why, by somebody on site. Private: place, note."""

    at: At
    reason: Literal["lightning", "storm", "smoke", "no_access", "high_rise", "unsafe", "refused"]
    photo: Photo | None = None
    paper: OnPaper | None = None


class ConditionsRead(Facts):
    """The air as it was while samples were collected: read once, indoors or outdoors. Private: note.

    `unit` is the flat or building. `humidity_pct` is relative humidity. `rain_ended_h`: for how many hours it
    had not rained, outdoors.
    """

    at: At
    where: Literal["indoors", "outdoors"]
    unit: Tag | None = None
    temperature_c: Celsius | None = None
    humidity_pct: Percent | None = None
    pressure_hpa: Hectopascals | None = None
    rain_ended_h: Quantity | None = None
    instrument: Tag | None = None
    paper: OnPaper | None = None

    def contradictions(self) -> Iterator[str]:
        """A reading of nothing, and rain indoors."""
        read = (self.temperature_c, self.humidity_pct, self.pressure_hpa, self.rain_ended_h)
        if all(each is None for each in read):
            yield "write what was read: temperature_c, humidity_pct, pressure_hpa or rain_ended_h"
        if self.where == "indoors" and self.rain_ended_h is not None:
            yield "rain_ended_h belongs outdoors: write it with where outdoors"


BUILDING_STATES: Final = {
    "ventilation": ("normal", "off", "fan_only", "none", "other"),
    "windows": ("open", "closed"),
    "fresh_air": ("none", "off", "running"),
    "cleaner": ("none", "off", "running"),
    "people": ("none", "present"),
    "renovation": ("none", "running"),
}
"""What may change in a building while samples are collected, and how each of it may be then."""
FORMERLY: Final = {"works": "renovation"}
"""Codes of it that are still read, by what is written now."""


class BuildingChanged(Facts):
    """The building was not the same any more while samples were collected. Private: place, note.

    `windows` are windows and outside doors, `cleaner` air cleaners, `fresh_air` that of the opening;
    `renovation` is painting, demolition and the like, formerly `works`. `was` is left out where nobody knows.
    """

    at: At
    what: Literal["ventilation", "windows", "fresh_air", "cleaner", "people", "renovation", "works"]
    was: BuildingState | None = None
    now: BuildingState
    paper: OnPaper | None = None

    def contradictions(self) -> Iterator[str]:
        """A state that it cannot be in, and no change."""
        states = BUILDING_STATES[FORMERLY.get(self.what, self.what)]
        for member, state in (("was", self.was), ("now", self.now)):
            if state is not None and state not in states:
                yield f"{member} of {self.what} is one of: {', '.join(states)}"
        if self.was == self.now:
            yield f"was and now are both {self.now}: write what changed"


class Held(Facts):
    """How what I hold is kept.

    `samples` left out means all of this form that I hold. Private: place, note.
    """

    samples: Samples | None = None
    secured: Secured
    where: Whereabouts
    since: At
    until: At | None = None
    paper: OnPaper | None = None


class Relinquished(Facts):
    """Given to another person; `count` is what was counted by hand, none if nobody counted. Private: note.

    `expected`: when it is to arrive there, of what is carried some way.
    """

    samples: Samples
    count: Count | None = None
    to: OrganizationId
    to_kid: Digest | None = None
    purpose: Purpose | None = None
    expected: At | None = None
    at: At
    paper: OnPaper | None = None


class Item(Facts):
    """One cassette as received; its condition is always answered (RC-12), if only by `not_looked_at`."""

    sample: SampleNumber
    condition: Annotated[list[Condition], sized(1)]
    serial: Tag | None = None

    def contradictions(self) -> Iterator[str]:
        """A condition of what nobody looked at."""
        yield from _unseen_and_seen("condition", self.condition)


class ClosedAgain(Facts):
    """The dock shut the envelope again after it had looked into it; `seal` is its own, if it has a number."""

    seal: SealAsRead | None = None
    at: At


class FoundAt(Facts):
    """Where a cassette turned up that was not there at the first opening; `other` is an envelope's number."""

    where: Literal["package", "packing", "bench", "floor", "vehicle", "office", "other_envelope", "unknown"]
    other: EnvelopeNumber | None = None

    def contradictions(self) -> Iterator[str]:
        """Another envelope is named if and only if it was found there."""
        if (self.where == "other_envelope") != (self.other is not None):
            yield "other is the envelope where it was found, with where other_envelope, and nothing else"


class Dock(Facts):
    """The envelope as the receiving dock found it.

    `extra`: numbers read on cassettes no form of this envelope names.

    `temperature_c` is that inside on opening, `record_pages` how many pages of the custody record lay there,
    `containers` how many bags or boxes came, none if nobody counted. `closed_again` is said where the dock
    shut it afterwards.
    """

    envelope: EnvelopeNumber
    seal: SealAsRead | None
    seal_state: SealState
    package: Annotated[list[Package], sized(1)]
    delivered: At | None = None
    total: Count
    extra: list[Tag] = field(default_factory=list)
    record_enclosed: bool = True
    record_pages: Count | None = None
    containers: Count | None = None
    temperature_c: Celsius | None = None
    closed_again: ClosedAgain | None = None

    def contradictions(self) -> Iterator[str]:
        """A state of what nobody looked at."""
        yield from _unseen_and_seen("package", self.package)


class TakenIn(Facts):
    """An envelope that the laboratory signed for and did not open: its seal goes on covering what is inside.

    `seal` as it was read; `delivered` when the carrier brought it, if that is known; `containers` how many
    bags or boxes were counted, none if nobody counted; `where` it stands since, and how it is `secured`
    there. Private: place, note.
    """

    envelope: EnvelopeNumber
    seal: SealAsRead | None
    seal_state: SealSeen
    package: Annotated[list[Package], sized(1)]
    delivered: At | None = None
    containers: Count | None = None
    where: Whereabouts
    secured: Secured
    at: At
    paper: OnPaper | None = None

    def contradictions(self) -> Iterator[str]:
        """A state of what nobody looked at, and a number that nobody read."""
        yield from _unseen_and_seen("package", self.package)
        if self.seal is not None and self.seal_state in ("missing", "not_looked_at"):
            yield f"seal is what was read on it, and seal_state is {self.seal_state}: write one of them"


def _unseen_and_seen(member: str, said: Sequence[str]) -> Iterator[str]:
    if "not_looked_at" in said and len(said) > 1:
        yield f"{member} has not_looked_at beside an observation: write one of them"


class Received(Facts):
    """Taken over, hand to hand or at the dock; `count` is none if nobody counted. Private: note.

    `found` tells where it was found, of what was not there at the first opening.
    """

    items: Annotated[list[Item], sized(0, 500)]
    count: Count | None = None
    at: At
    purpose: Purpose | None = None
    dock: Dock | None = None
    found: FoundAt | None = None
    paper: OnPaper | None = None

    def contradictions(self) -> Iterator[str]:
        """Nothing received, or one sample twice."""
        if self.dock is None and not self.items:
            yield "name at least one sample that was received"
        if twice := named_twice([item.sample for item in self.items]):
            yield f"items {twice}"


class Acknowledged(Facts):
    """A finding the sealer saw and accepted."""

    rule: RuleId
    about: Tag


class Sealed(Facts, later=("seal", "count", "total", "forms")):
    """This form's part of an envelope, under a numbered custody seal; `total` counts the whole envelope.

    `policy` is the digest of the firm's thresholds then, `lab_policy` that of the limits its laboratory had
    stated, if any. `record_pages` is how many pages of the custody record were put in, `containers` how many
    bags or boxes it goes in, none if nobody counted, `photo` a picture of the closed envelope.
    """

    envelope: EnvelopeNumber
    seal: SealNumber
    samples: Samples
    count: Count
    total: Count
    forms: Annotated[list[FormNumber], sized(1, 50), EachOnce]
    at: At
    across_opening: bool
    record_enclosed: bool
    plain_tape: bool = False
    record_pages: Count | None = None
    containers: Count | None = None
    photo: Photo | None = None
    policy: Digest | None = None
    lab_policy: Digest | None = None
    findings: list[Acknowledged] = field(default_factory=list)
    paper: OnPaper | None = None


class Unsealed(Facts):
    """Opened again before or after transport, by whoever holds it. Private: note."""

    envelope: EnvelopeNumber
    seal: SealAsRead
    reason: Literal["add_sample", "remove_sample", "wrong_seal", "damage", "inspection", "other"]
    at: At
    paper: OnPaper | None = None


class Courier(Facts):
    """Who carries an envelope by hand, and signs nothing here. Private: courier_name, courier_phone.

    `named` says that the name was told, without telling it; `kid` is the key of whoever has one. `id_seen`:
    whether an identity document was looked at. `slip` is the number of the receipt slip that was signed in
    ink, `slip_photo` a picture of it.
    """

    relation: Literal["employee", "client", "lab_driver", "hired", "other"]
    org: OrganizationId | None = None
    kid: Digest | None = None
    named: bool = False
    id_seen: bool | None = None
    slip: Tag | None = None
    slip_photo: Photo | None = None


class Shipped(Facts):
    """Handed to a carrier, or carried by hand (`by_hand`) by its `courier`: then no tracking number is
    expected.

    What is carried by hand arrives when whoever carries it expects to: `expected_delivery` is their word, of
    a carrier it is reckoned from the calendars. `classified` is what the shipper decided about the transport
    class; the forecast is that of the way, in degrees Celsius.
    """

    envelope: EnvelopeNumber
    carrier: Tag
    service: Tag
    service_days: Annotated[int, between(0, 30)]
    saturday: bool = False
    by_hand: bool = False
    courier: Courier | None = None
    tracking: Tag | None = None
    handed_over: At
    expected_delivery: At | None = None
    expected_receipt: At | None = None
    classified: Transport | None = None
    forecast_low_c: Celsius | None = None
    forecast_high_c: Celsius | None = None
    paper: OnPaper | None = None

    def contradictions(self) -> Iterator[str]:
        """A courier of what a carrier takes."""
        if self.courier is not None and not self.by_hand:
            yield "courier is who carries it by hand: set by_hand true, or leave courier out"


class Decision(Facts):
    """The laboratory's answer for some samples: accepted, on hold or rejected.

    Private: called_person, answer, note.

    `qualified`: the result will be reported with a qualification. `resample`: whether a new sample can still
    be taken.
    """

    samples: Samples
    at: At
    reasons: list[
        Literal[
            "seal",
            "count",
            "identity",
            "condition",
            "media_expired",
            "no_outdoor_control",
            "paperwork",
            "late",
            "overloaded",
            "other",
        ]
    ] = field(default_factory=list)
    called: At | None = None
    qualified: bool = False
    lab_numbers: dict[SampleNumber, Tag] = field(default_factory=dict)
    resample: Literal["possible", "not_possible", "asked"] | None = None


class LabNumbered(Facts):
    """The laboratory's own numbers for some samples, given before anything is decided or after it.

    The last number counts, in whichever act it stands. Private: note.
    """

    numbers: Annotated[dict[SampleNumber, Tag], sized(1, 500)]
    at: At


class Requested(Facts):
    """What the firm asks the laboratory for: of some samples, or of all of the form. Private: bill_to, note.

    Of each member the newest word on a sample counts, before that of the opening; what is left out here stays
    as it was. `due` is the last day for the result, at the laboratory; `purchase` the number of the order,
    `cost_center` who pays for it there.
    """

    samples: Samples | None = None
    analysis: Tag | None = None
    turnaround: Tag | None = None
    due: Day | None = None
    purchase: Tag | None = None
    cost_center: Tag | None = None
    priority: Literal["routine", "rush", "emergency"] | None = None

    def contradictions(self) -> Iterator[str]:
        """A request for nothing."""
        asked = {name: getattr(self, name) for name in self.keys if name != "samples"}
        if all(each is None for each in asked.values()):
            yield f"write what is requested: {', '.join(asked)}"


class Stored(Facts):
    """Put into a store of the laboratory, for the first time or back again: its lock keeps them from then on.

    `keep_until` is the first day on which they may be disposed of, none if nobody said; `low_c` and `high_c`
    are between which temperatures the store is kept, in degrees Celsius. Private: note.
    """

    samples: Samples
    store: Tag
    secured: Literal["locked", "restricted"]
    at: At
    keep_until: Day | None = None
    low_c: Celsius | None = None
    high_c: Celsius | None = None
    paper: OnPaper | None = None

    def contradictions(self) -> Iterator[str]:
        """A range upside down."""
        if self.low_c is not None and self.high_c is not None and self.low_c > self.high_c:
            yield f"low_c {self.low_c} is above high_c {self.high_c}: write the lower one as low_c"


class Withdrawn(Facts):
    """Taken out of a store of the laboratory, to be put back (`stored`) or disposed of. Private: note."""

    samples: Samples
    store: Tag
    purpose: Literal["analysis", "review", "disposal"]
    at: At
    paper: OnPaper | None = None


class SentItem(Facts):
    """One sample as it goes on: `child` is the number it bears from now on, on a label of its own."""

    sample: SampleNumber
    child: SampleNumber
    item: Literal["cassette", "slide"]
    condition: Annotated[list[SentOn], sized(1)]

    def contradictions(self) -> Iterator[str]:
        """A child that bears no number of its own."""
        if self.child == self.sample:
            yield "child must be a new number: each thing has its own"


class Forwarded(Facts):
    """Sent on by a laboratory to a second one, which becomes a party of the form. Private: note.

    The trace is one object: nothing is split, the whole of it goes on under a new number, seal and receipt.
    What the second laboratory takes over it says with `received`.
    """

    items: Annotated[list[SentItem], sized(1, 100)]
    count: Count | None = None
    to: OrganizationId
    purpose: Purpose
    at: At
    paper: OnPaper | None = None

    def contradictions(self) -> Iterator[str]:
        """One sample or one new number twice."""
        for named in ([item.sample for item in self.items], [item.child for item in self.items]):
            if twice := named_twice(named):
                yield f"items {twice}"


class Voided(Facts):
    """A sample that will not be analyzed, and why. Private: note."""

    sample: SampleNumber
    reason: Literal[
        "dropped",
        "pump_fault",
        "covers_lost",
        "label_lost",
        "wrong_place",
        "expired",
        "overloaded",
        "lost",
        "other",
    ]
    paper: OnPaper | None = None


def _public_field(name: object) -> str:
    """A private field is never corrected here: its new value would stand in the log in clear, for good."""
    if not isinstance(name, str) or not re.fullmatch(r"[a-z_]{1,40}(\.[a-z_]{1,40}){0,3}", name):
        raise Malformed("write the name of a member like pump, or preparation.cleaned_h_ago")
    first = name.partition(".")[0]
    if first not in _public_members():
        raise Malformed(
            f"{first!r} is no member of any entry; a private field is not corrected but entered again with a"
            " note",
            code=NOT_KNOWN,
        )
    return name


_ON_A_FORM: Final = frozenset({__name__, f"{__package__}.surface"})


@cache
def _public_members() -> frozenset[str]:
    """The keys of all members of acts on a form, and of what stands in them."""
    kinds = [kind for kind in Facts.__subclasses__() if kind.__module__ in _ON_A_FORM]
    return frozenset(key for kind in kinds for key in kind.keys.values())


class Corrected(Facts):
    """An earlier statement said `old` at `field` (a member of its data); it should have said `new`.

    Private: note.
    """

    statement: Digest
    field: Annotated[str, Reads(_public_field)]
    old: Json
    new: Json
    reason: Literal["typing", "misread", "left_out", "wrong_item", "clock", "other"]


class Excepted(Facts):
    """A named finding is allowed, with a reason, by a second person.

    `about` is what the finding names. Private: note.
    """

    rule: RuleId
    about: Tag
    reason: Literal[
        "outdoor_impossible",
        "client_accepts",
        "lab_accepts",
        "no_alternative",
        "documented_elsewhere",
        "other",
    ]


class Affirmed(Facts):
    """I did make these statements, though my key was lost or reported since."""

    statements: Annotated[list[Digest], sized(1, 200)]


class Witnessed(Facts):
    """I watched what these statements say of another person.

    `samples` are the numbers that I read on the cassettes myself, `count` what I counted by hand; left out is
    not stated. Private: note.
    """

    statements: Annotated[list[Digest], sized(1, 200)]
    samples: Samples | None = None
    count: Count | None = None

    def saw(self, statement: str, named: Collection[str]) -> bool:
        """Whether this is a second word on a statement that names these samples.

        Where numbers were read, only on one of which every number was.
        """
        is_read = self.samples is None or (bool(named) and set(named) <= set(self.samples))
        return is_read and statement in self.statements


class Copied(Facts):
    """A copy of the custody record, or a result, was given out under a version number. Private: note.

    Every organization numbers its own. The highest version counts and replaces those below it. `entries` is
    the newest entry of the form that the copy tells of, as the record prints it; `reference` the name a
    result bears elsewhere; `file` its SHA-256. A `blind` copy is what an analyst is given.
    """

    of: Literal["record", "result", "blind"]
    version: Annotated[int, between(1, 9_999)]
    entries: Annotated[int, between(1, 100_000)]
    reference: Tag | None = None
    file: Digest | None = None
    reason: Literal["correction", "decision", "lost", "other"] | None = None


class Notified(Facts):
    """Somebody who has to know was told: of what, about which lot, sample, envelope or form, to whom, how and
    when. Private: called_person, answer, note.

    `org` is the short name of an organization that was told, where it has one here.
    """

    of: Literal["recall", "difference", "correction", "rejection", "lost", "amended_copy"]
    about: Tag
    to: Literal["client", "firm", "laboratory", "second_laboratory", "authority", "other"]
    org: OrganizationId | None = None
    how: Literal["telephone", "letter", "mail", "in_person"]
    at: At


class Disposed(Facts):
    """The end of custody."""

    samples: Samples
    how: Literal["destroyed", "returned", "archived"]
    at: At
    paper: OnPaper | None = None
