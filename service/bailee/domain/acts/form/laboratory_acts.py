"""What a laboratory is asked, decides and does: requests, decisions, storage, results, the end of custody."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import field
from typing import Annotated, Literal

from bailee.domain.acts.form.attachments import OnPaper
from bailee.domain.acts.form.custody_acts import (
    Purpose,
)
from bailee.domain.facts import Facts, between, sized
from bailee.domain.fields import (
    At,
    Celsius,
    Count,
    Day,
    Digest,
    OrganizationId,
    SampleNumber,
    Samples,
    Tag,
    named_twice,
)  # fmt: skip

SentOn = Literal["opened", "stained", "cracked", "wet"]


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
