"""What is said of a visit as a whole: opened, its equipment checked, its conditions, what changed."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final, Literal

from bailee.domain.acts.form.attachments import OnPaper, Photo
from bailee.domain.facts import Facts
from bailee.domain.fields import (
    At,
    Celsius,
    Count,
    Day,
    Edition,
    Hectopascals,
    OrganizationId,
    Percent,
    Quantity,
    Seconds,
    Tag,
    Zone,
)  # fmt: skip

BuildingState = Literal["normal", "off", "fan_only", "none", "other", "open", "closed", "running", "present"]


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
