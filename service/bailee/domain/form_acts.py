"""What people say about the samples of one visit: the acts on `form/<number>`.

Names, addresses and free text are never members here: they travel as private fields beside the statement (`client`,
`site`, `contact`, `place`, `note`, …) and can be erased. Everything below is public to the parties of the form.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated, Literal

from pydantic import Field, JsonValue, model_validator

from bailee.domain import measures
from bailee.domain.fields import (
    At,
    Count,
    Day,
    Digest,
    EachOnce,
    EnvelopeNumber,
    Facts,
    FormNumber,
    LotNumber,
    OrganisationId,
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
)  # fmt: skip

SampleKind = Literal["indoor", "outdoor", "blank"]
Room = Literal[
    "living", "bedroom", "kitchen", "bathroom", "hallway", "basement", "laundry", "office", "classroom", "mechanical",
    "attic", "crawl_space", "garage", "wall_cavity", "outdoors", "other",
]  # fmt: skip
Space = Literal["conditioned", "attic", "crawl_space", "garage", "wall_cavity", "other"]
Area = Literal["complaint", "non_complaint", "reference"]
Nearby = Literal[
    "supply_vent", "open_door", "fan", "plants", "compost", "exhaust", "bins", "traffic", "eaves", "none"
]
Condition = Literal["intact", "cracked", "cover_off", "wet", "label_unreadable", "label_missing", "opened"]
Purpose = Literal["transport", "shipping", "storage", "analysis", "return", "other"]


class Parties(Facts):
    """Who may see and write this form: the firm that samples and the laboratory that counts."""

    firm: OrganisationId
    lab: OrganisationId


class Preparation(Facts):
    """Answers found on arrival. Hours are hours before the first sample; `null` = never in use, or none done."""

    windows_closed_h: Quantity | None
    purifiers_off_h: Quantity | None
    ventilation: Literal["normal", "off", "fan_only", "none", "other"]
    cleaned_h_ago: Quantity | None


class Opened(Facts):
    """A visit begins. Private fields: client, site, contact, question, note."""

    parties: Parties
    visit: Day
    zone: Zone
    method: Tag | None = None
    project: Tag | None = None
    analysis: Tag | None = None
    turnaround: Tag | None = None
    preparation: Preparation | None = None


class Weather(Facts):
    """What the sky did during the outdoor control."""

    sky: Literal["clear", "cloudy", "overcast", "rain", "fog", "snow"]
    wind: Literal["calm", "light", "strong"]
    snow_cover: bool = False
    mowing: bool = False


class Collected(Facts):
    """One cassette, opened, run, covered. Volume is computed from flow and seconds, never typed.

    Flows in litres a minute as read, run in actual seconds, heights and distances in metres. Private: place, note.
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
    point: Tag | None = None
    room: Room | None = None
    space: Space | None = None
    space_reason: Literal["complaint_there", "source_there", "client_request", "other"] | None = None
    area: Area | None = None
    near: list[Nearby] = Field(default_factory=list)
    height_m: Quantity | None = None
    distance_m: Quantity | None = None
    pump: Tag | None = None
    meter: Tag | None = None
    flow_before: Quantity | None = None
    flow_after: Quantity | None = None
    weather: Weather | None = None

    @property
    def mean_flow(self) -> Decimal | None:
        """Mean of the flows read, L/min; the one reading when there is only one; None when none was taken."""
        flows = [flow for flow in (self.flow_before, self.flow_after) if flow is not None]
        return measures.mean_flow(flows[0], flows[-1]) if flows else None

    @property
    def volume_l(self) -> Decimal | None:
        """Litres drawn, exact: mean flow times actual seconds; None for a blank or without a flow."""
        flow = self.mean_flow
        return measures.volume_litres(flow, Decimal(self.run_s)) if flow is not None else None

    @model_validator(mode="after")
    def _blank_has_no_air(self) -> Collected:
        if self.kind == "blank" and (
            self.run_s or self.flow_before is not None or self.flow_after is not None
        ):
            raise ValueError("a field blank draws no air: leave flow out and write run_s 0 (BD-02)")
        return self


class Held(Facts):
    """How what I hold is kept. `samples` left out means all of this form that I hold. Private: place, note."""

    samples: Samples | None = None
    secured: Secured
    where: Literal["person", "vehicle", "office", "home", "laboratory", "other"]
    since: At
    until: At | None = None


class Relinquished(Facts):
    """Given to another person. Private: note."""

    samples: Samples
    count: Count
    to: OrganisationId
    to_kid: Digest | None = None
    purpose: Purpose | None = None
    at: At


class Item(Facts):
    """One cassette as received; its condition is always answered (RC-12)."""

    sample: SampleNumber
    condition: Annotated[list[Condition], Field(min_length=1)]
    serial: Tag | None = None


class Dock(Facts):
    """The envelope as the receiving dock found it. `extra`: numbers read on cassettes no form of this envelope names."""

    envelope: EnvelopeNumber
    seal: SealAsRead | None
    seal_state: Literal["intact", "broken", "missing", "void_showing"]
    package: Annotated[list[Literal["sound", "wet", "crushed", "torn", "opened"]], Field(min_length=1)]
    delivered: At | None = None
    total: Count
    extra: list[Tag] = Field(default_factory=list)
    record_enclosed: bool = True


class Received(Facts):
    """Taken over, hand to hand or at the dock. Private: note."""

    items: Annotated[list[Item], Field(max_length=500)]
    count: Count
    at: At
    purpose: Purpose | None = None
    dock: Dock | None = None

    @model_validator(mode="after")
    def _something_was_received_once(self) -> Received:
        if self.dock is None and not self.items:
            raise ValueError("name at least one sample that was received")
        named = [item.sample for item in self.items]
        twice = sorted({sample for sample in named if named.count(sample) > 1})
        if twice:
            raise ValueError(f"items names {', '.join(twice)} more than once")
        return self


class Acknowledged(Facts):
    """A finding the sealer saw and accepted."""

    rule: RuleId
    about: Tag


class Sealed(Facts):
    """This form's part of an envelope, under a numbered custody seal; `total` counts the whole envelope.

    `policy` is the digest of the firm's thresholds then, `lab_policy` that of the limits its laboratory had stated, if any.
    """

    envelope: EnvelopeNumber
    seal: SealNumber
    samples: Samples
    count: Count
    total: Count
    forms: Annotated[list[FormNumber], Field(min_length=1, max_length=50), EachOnce]
    at: At
    across_opening: bool
    record_enclosed: bool
    policy: Digest | None = None
    lab_policy: Digest | None = None
    findings: list[Acknowledged] = Field(default_factory=list)


class Unsealed(Facts):
    """Opened again before or after transport, by whoever holds it. Private: note."""

    envelope: EnvelopeNumber
    seal: SealAsRead
    reason: Literal["add_sample", "remove_sample", "wrong_seal", "damage", "inspection", "other"]
    at: At


class Shipped(Facts):
    """Handed to a carrier, or carried by hand (`by_hand`): then no tracking number is expected."""

    envelope: EnvelopeNumber
    carrier: Tag
    service: Tag
    service_days: Annotated[int, Field(ge=0, le=30)]
    saturday: bool = False
    by_hand: bool = False
    tracking: Tag | None = None
    handed_over: At
    expected_delivery: At | None = None
    expected_receipt: At | None = None


class Decision(Facts):
    """The laboratory's answer for some samples: accepted, on hold or rejected. Private: called_person, answer, note."""

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
            "other",
        ]
    ] = Field(default_factory=list)
    called: At | None = None
    qualified: bool = False
    lab_numbers: dict[SampleNumber, Tag] = Field(default_factory=dict)


class Voided(Facts):
    """A sample that will not be analysed, and why. Private: note."""

    sample: SampleNumber
    reason: Literal[
        "dropped", "pump_fault", "covers_lost", "label_lost", "wrong_place", "expired", "lost", "other"
    ]


class Corrected(Facts):
    """An earlier statement said `old` at `field` (a member of its data); it should have said `new`. Private: note."""

    statement: Digest
    field: Annotated[str, Field(pattern=r"^[a-z_]{1,40}(\.[a-z_]{1,40}){0,3}$")]
    old: JsonValue
    new: JsonValue
    reason: Literal["typing", "misread", "left_out", "wrong_item", "clock", "other"]


class Excepted(Facts):
    """A named finding is allowed, with a reason, by a second person. `about` is what the finding names. Private: note."""

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

    statements: Annotated[list[Digest], Field(min_length=1, max_length=200)]


class Disposed(Facts):
    """The end of custody."""

    samples: Samples
    how: Literal["destroyed", "returned", "archived"]
    at: At
