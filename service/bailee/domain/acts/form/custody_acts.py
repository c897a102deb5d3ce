"""Who has the samples: kept, given and taken, taken in and opened at a dock."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import field
from typing import Annotated, Literal

from bailee.domain.acts.form.attachments import OnPaper
from bailee.domain.facts import Facts, sized
from bailee.domain.fields import (
    At,
    Celsius,
    Count,
    Digest,
    EnvelopeNumber,
    OrganizationId,
    RuleId,
    SampleNumber,
    Samples,
    SealAsRead,
    Secured,
    Tag,
    named_twice,
)  # fmt: skip

Condition = Literal[
    "intact", "cracked", "cover_off", "wet", "label_unreadable", "label_missing", "opened", "not_looked_at"
]
Package = Literal["sound", "wet", "crushed", "torn", "opened", "not_looked_at"]
SealState = Literal["intact", "broken", "missing", "void_showing"]
SealSeen = Literal["intact", "broken", "missing", "void_showing", "not_looked_at"]
Whereabouts = Literal["person", "vehicle", "office", "home", "laboratory", "other"]
Purpose = Literal["transport", "shipping", "storage", "analysis", "return", "other"]


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
