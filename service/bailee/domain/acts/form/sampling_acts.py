"""What is said of one cassette: collected, or void."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import field
from decimal import Decimal
from typing import Final, Literal

from bailee.domain import measures
from bailee.domain.acts.form.attachments import OnPaper, Photo
from bailee.domain.facts import Facts
from bailee.domain.fields import (
    At,
    Celsius,
    Count,
    FormNumber,
    Hectopascals,
    LotNumber,
    Quantity,
    SampleNumber,
    Seconds,
    Tag,
)  # fmt: skip

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
PumpStop = Literal["battery", "blocked", "overheated", "fault", "other"]
_VOLUME_SLACK_L: Final = Decimal("0.1")
_SCAN_SLACK_S: Final = 1
"""Two scans whose times are cut to whole seconds may seem this much nearer than they were."""


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


def wrongly_replaced(sample: str, replaces: str | None, form: str | None) -> Iterator[str]:
    """A sample that replaces itself, and a form on which nothing is replaced."""
    if replaces == sample:
        yield "replaces is the earlier sample, which this one is collected for: name that"
    if form is not None and replaces is None:
        yield "replaces_form is that of the sample in replaces: write both"


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
