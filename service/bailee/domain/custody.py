"""Custody of the samples of one form: samples, links, envelopes, and what could not be reconciled.

The shapes only; `forms.fold` makes them from statements, and nobody else writes to them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Final, Literal, TypeVar

from bailee.domain import corrections
from bailee.domain.acts.form import (  # fmt: skip
    Cavity,
    Collected,
    Forwarded,
    Opened,
    Received,
    Sealed,
    Stored,
    TakenIn,
)
from bailee.domain.acts.surface import SurfaceCollected
from bailee.domain.facts import Facts
from bailee.domain.fields import Secured
from bailee.domain.moments import Moment
from bailee.domain.statements import Recorded
from bailee.frozen import frozen

Status = Literal[
    "announced",
    "collected",
    "sealed",
    "shipped",
    "taken_in",
    "received",
    "missing",
    "accepted",
    "on_hold",
    "rejected",
    "forwarded",
    "disposed",
]
OddityCode = Literal[
    "opened-twice",
    "claimed-twice",
    "not-collected",
    "not-holder",
    "not-relinquished",
    "other-receiver",
    "count",
    "two-envelopes",
    "not-sealed",
    "not-in-envelope",
    "already-shipped",
    "already-arrived",
    "collected-elsewhere",
    "taken-elsewhere",
    "decided-elsewhere",
    "after-disposal",
    "sent-twice",
    "not-followed",
]

B = TypeVar("B", bound=Facts)
CARRIER: Final = "carrier"
COURIER: Final = "courier"
"""Whose a link is that nobody signed for: the carrier's, or of a person who carries it by hand."""

MOST_TOLD: Final = 1_000
"""So many statements about one sample are followed, ten a day for a season.

More are kept, and named as not followed.
"""

MOST_UNNAMED: Final = 100_000
"""So many samples may all statements of a form together mean without naming them: a thousand
times a hundred."""


@frozen
class Said:
    """A fact and the entry that said it."""

    entry: Recorded
    body: Facts

    def of(self, kind: type[B]) -> B:
        """The body as the act it is known to be."""
        assert isinstance(self.body, kind)
        return self.body


@frozen
class Oddity:
    """Something the fold could not reconcile: where, about which sample, and the words that explain it."""

    code: OddityCode
    entry: Recorded
    sample: str | None = None
    detail: str = ""


@dataclass(slots=True)
class Transfer:
    """What was relinquished in one entry, and `taken` so far, in one receipt or in several: the newest is
    `received`.
    """

    given: Said | None = None
    received: Said | None = None
    taken: set[str] = field(default_factory=set)


@dataclass(slots=True)
class Keeping:
    """A stretch of time and the way the holder kept the sample."""

    secured: Secured
    since: Moment
    until: Moment | None
    n: int
    where: str = ""


@dataclass(slots=True)
class Link:
    """One holder of one sample: from when to when, how received, how kept, how given."""

    org: str
    kid: str | None
    since: Moment
    received: Recorded
    until: Moment | None = None
    given: Said | None = None
    keeping: list[Keeping] = field(default_factory=list)
    gap: timedelta | None = None

    @property
    def by_carrier(self) -> bool:
        """A carrier or courier signs nothing: seal, and tracking number or slip, speak for this link."""
        return self.kid is None and self.store is None

    @property
    def store(self) -> str | None:
        """The store of the laboratory that it lies in: that signs nothing either, and its lock speaks."""
        body = self.received.body
        return body.store if isinstance(body, Stored) else None


@frozen
class DayCheck:
    """The checks of its pump that speak for a run without readings of its own: the nearest before and after.

    `adjusted` is the nearest after it when the pump was adjusted for that one: then nothing tells of the end
    of the run.
    """

    before: Said | None
    after: Said | None
    adjusted: Said | None = None


@dataclass(slots=True)
class Sample:
    """One cassette on this form, or one sample of a surface beside them.

    `claims` are all statements that say they collected it; more than one is a conflict. `numbered` are the
    laboratory's own numbers for it, each with who gave it: the last one counts.

    `told` counts how often it was spoken of. `unbroken` are the seals on it that nobody opened yet;
    `unanswered` the links that nobody gave, each with the one before it, by the person who had it before
    (empty: nobody is known yet). `missed` is the opening of its envelope at which it was not there, `found`
    who says that they took it over after that. `completed` is what its collector said, with the flow of
    `day_check` where none was read for it alone; `of_cavity`: so it was signed at
    collection. `parent` is the sample it was before it was sent on to a second laboratory under this number;
    `child` the one it became.
    """

    number: str
    claims: list[Said] = field(default_factory=list)
    links: list[Link] = field(default_factory=list)
    status: Status = "announced"
    envelope: str | None = None
    given: Said | None = None
    condition: tuple[str, ...] = ()
    decisions: list[Said] = field(default_factory=list)
    numbered: list[tuple[Said, str]] = field(default_factory=list)
    void: Said | None = None
    missed: Said | None = None
    found: Said | None = None
    day_check: DayCheck | None = None
    completed: Collected | None = None
    of_cavity: bool = False
    told: int = field(default=0, compare=False, repr=False)
    unbroken: list[Keeping] = field(default_factory=list, compare=False, repr=False)
    unanswered: dict[str, list[tuple[Link | None, Link]]] = field(
        default_factory=dict, compare=False, repr=False
    )
    parent: Sample | None = field(default=None, compare=False, repr=False)
    child: Sample | None = field(default=None, compare=False, repr=False)

    @property
    def lab_number(self) -> str | None:
        """The laboratory's own number that it bears now."""
        return self.numbered[-1][1] if self.numbered else None

    @property
    def keep_until(self) -> date | None:
        """Until when a store is to keep it, by the newest word."""
        told = (link.received.body for link in reversed(self.links))
        return next((body.keep_until for body in told if isinstance(body, Stored) and body.keep_until), None)

    @property
    def decision(self) -> Said | None:
        """The laboratory's newest answer."""
        return self.decisions[-1] if self.decisions else None

    @property
    def origin(self) -> Said | None:
        """The first claim, which stands until people settle a conflict; of a sample sent on, its parent's."""
        if self.claims:
            return self.claims[0]
        return self.parent.origin if self.parent else None

    @property
    def collected(self) -> Collected | None:
        """What that claim says of a cassette, with the flow of the day's checks where none was read for it
        alone.
        """
        if self.claims:
            return None if self.surface else self.taken
        return self.parent.collected if self.parent else None

    @property
    def surface(self) -> SurfaceCollected | None:
        """What it says of a sample that was taken from a surface."""
        body = self.origin.body if self.origin else None
        return body if isinstance(body, SurfaceCollected) else None

    @property
    def taken(self) -> Collected:
        """The same for a sample known to be of air, as all of `Form.air` are."""
        return self.completed or self.claims[0].of(Collected)

    @property
    def kind(self) -> str | None:
        """Which air it is, that of a cavity being none of a room; None for what was taken from a surface."""
        body = self.collected
        return "cavity" if self.cavity else body.kind if body else None

    @property
    def cavity(self) -> Cavity | None:
        """The cavity it was drawn from. No correction makes one: what is asked of room air stays asked."""
        if not self.claims:
            return self.parent.cavity if self.parent else None
        return self.collected.cavity if self.of_cavity and self.collected else None

    @property
    def lot(self) -> str | None:
        """The lot that it is said to come from."""
        body = self.surface or self.collected
        return body.lot if body else None

    @property
    def replaces(self) -> tuple[str, str | None] | None:
        """The sample that it was collected again for, and the form of that where it is another."""
        body = self.claims[0].body if self.claims else None
        if isinstance(body, Collected | SurfaceCollected) and body.replaces:
            return body.replaces, body.replaces_form
        return None

    @property
    def started(self) -> Moment | None:
        """When its run began, or when it was taken from its surface."""
        if self.surface:
            return self.surface.at
        return self.collected.started if self.collected else None

    @property
    def taken_at(self) -> Moment:
        """The same for a sample known to be collected, as every live one is."""
        assert self.started is not None
        return self.started

    @property
    def stopped(self) -> Moment | None:
        """When its run ended, or when it was taken from its surface."""
        body = self.collected
        if body is None:
            return self.started
        return body.started.moved(timedelta(seconds=body.run_s))

    @property
    def holder(self) -> Link | None:
        """The current link."""
        return self.links[-1] if self.links else None

    def came_to(self, org: str) -> bool:
        """Whether this organization ever had it, or opened its envelope and did not find it there."""
        has_missed = self.missed is not None and self.missed.entry.org == org
        return has_missed or any(link.org == org for link in self.links)


@dataclass(slots=True)
class Sealing:
    """One seal on an envelope, and how it ended."""

    said: Said
    opened: Said | None = None

    @property
    def body(self) -> Sealed:
        """What the sealer said."""
        return self.said.of(Sealed)


@frozen
class Arrival:
    """One statement of a dock about the envelope, and the seal that was on it by then, which no later one
    hides.
    """

    said: Said
    sealing: Sealing | None


@dataclass(slots=True)
class Envelope:
    """This form's view of one envelope. A later arrival is a cassette found after the first opening.

    `taken_in` is who signed for it before anybody opened it, and the seal that was on it by then.
    """

    number: str
    sealings: list[Sealing] = field(default_factory=list)
    shipped: Said | None = None
    taken_in: Arrival | None = None
    arrivals: list[Arrival] = field(default_factory=list)

    @property
    def sealing(self) -> Sealing | None:
        """The newest seal."""
        return self.sealings[-1] if self.sealings else None

    @property
    def docked(self) -> Said | None:
        """The first opening at a dock."""
        return self.arrivals[0].said if self.arrivals else None

    @property
    def arrived(self) -> Moment | None:
        """When a dock had it, opened or not."""
        if self.taken_in:
            return self.taken_in.said.of(TakenIn).at
        return self.docked.of(Received).at if self.docked else None


@dataclass(slots=True)
class Form:
    """Custody of one visit. Built by `fold`; nobody else writes to it.

    `entries` are as recorded; `ordered` are the same in causal order, with corrections applied,
    `uncorrected` by digest those that a correction is about, as they were signed. `owners`
    names by key the first key of the same person, for people who have several; `roles` by key the role it was
    enrolled in. `ruled_out` says why no outdoor control could be collected, `pump_checks` the flow of pumps
    that were checked once for several runs, `conditions` what the firm read of the air,
    `changes` what it saw change in the building, `requests` what it asked the laboratory for. `erased` counts
    by statement the private fields that were erased; `retained` says by organization that none may be.
    `copies` are those given out of the record or of a result, in order, `notices` who was told of what;
    `sent_to` the laboratories to which samples were sent on. `transfers` are by the digest of the
    relinquishing entry; `settled` are oddities, by code, entry and sample, that something signed later
    explains; `unnamed` counts the samples that were meant by statements that named none.
    """

    number: str
    opened: Said
    samples: dict[str, Sample] = field(default_factory=dict)
    envelopes: dict[str, Envelope] = field(default_factory=dict)
    exceptions: list[Said] = field(default_factory=list)
    ruled_out: list[Said] = field(default_factory=list)
    pump_checks: list[Said] = field(default_factory=list)
    conditions: list[Said] = field(default_factory=list)
    changes: list[Said] = field(default_factory=list)
    requests: list[Said] = field(default_factory=list)
    copies: list[Said] = field(default_factory=list)
    notices: list[Said] = field(default_factory=list)
    erased: dict[str, int] = field(default_factory=dict)
    retained: dict[str, Said] = field(default_factory=dict)
    affirmed: set[str] = field(default_factory=set)
    corrections: list[corrections.Correction] = field(default_factory=list)
    oddities: list[Oddity] = field(default_factory=list)
    unnamed: int = field(default=0, compare=False, repr=False)
    transfers: dict[str, Transfer] = field(default_factory=dict, compare=False, repr=False)
    settled: set[tuple[OddityCode, int, str | None]] = field(default_factory=set, compare=False, repr=False)
    sent_to: list[str] = field(default_factory=list)
    entries: Sequence[Recorded] = ()
    ordered: Sequence[Recorded] = ()
    uncorrected: Mapping[str, Recorded] = field(default_factory=dict, compare=False, repr=False)
    owners: Mapping[str, str] = field(default_factory=dict)
    roles: Mapping[str, str] = field(default_factory=dict)

    def as_signed(self, entry: Recorded) -> Recorded:
        """The same entry before any correction."""
        return self.uncorrected.get(entry.digest, entry)

    def person(self, kid: str) -> str:
        """The first key of the person whose key it is."""
        return self.owners.get(kid, kid)

    def same(self, one: str | None, other: str | None) -> bool:
        """Whether two keys are one person's."""
        return one is not None and self.owners.get(one, one) == self.owners.get(other or "", other)

    @property
    def edition(self) -> int:
        """The edition of the rule book under which it was opened, and by which it is judged for good."""
        return self.opened.of(Opened).edition

    @property
    def visit(self) -> date:
        """Local day of the visit."""
        return self.opened.of(Opened).visit

    def day_of(self, moment: Moment) -> date:
        """The calendar day of a moment on the clocks of the site, whatever the device's own clock
        was set to.
        """
        return Moment.shown_in(moment.instant, self.opened.of(Opened).zone).local_date

    @property
    def laboratories(self) -> list[str]:
        """The laboratory of the form, and those that samples were sent on to."""
        return list(dict.fromkeys([self.opened.of(Opened).parties.lab, *self.sent_to]))

    @property
    def parties(self) -> frozenset[str]:
        """The firm, and every laboratory of the form: whose word counts for it."""
        return frozenset({self.opened.of(Opened).parties.firm, *self.laboratories})

    @property
    def speakers(self) -> frozenset[str]:
        """Who has said anything here. To be named by somebody is not to speak."""
        return frozenset(entry.org for entry in self.entries)

    @property
    def organizations(self) -> list[str]:
        """Everybody who signed, or is a party."""
        firm = self.opened.of(Opened).parties.firm
        return list(dict.fromkeys([firm, *self.laboratories, *(entry.org for entry in self.entries)]))

    def addressed_to(self, envelope: str) -> str:
        """The laboratory an envelope goes to: the form's, or the second one to which what lies in it is sent
        on.
        """
        known, lab = self.envelopes.get(envelope), self.opened.of(Opened).parties.lab
        inside = known.sealing.body.samples if known and known.sealing else ()
        bound_for = (self.bound_for(self.samples[number]) for number in inside)
        return next((other for other in bound_for if other != lab), lab)

    def takes_in(self, org: str, envelope: str) -> bool:
        """Whether what an organization signs of an envelope is its arrival: the laboratory it is addressed
        to; of one whose sealing is not on record, any laboratory of the form.
        """
        known = self.envelopes.get(envelope)
        is_known = known is not None and known.sealing is not None
        return org == self.addressed_to(envelope) if is_known else org in self.laboratories

    def bound_for(self, sample: Sample) -> str:
        """The laboratory that is to have a sample: the form's, or the second one to which it is sent on."""
        first = sample.links[0].received.body if sample.links else None
        return first.to if isinstance(first, Forwarded) else self.opened.of(Opened).parties.lab

    def answers_for(self, org: str, sample: Sample) -> bool:
        """Whether it is this organization that decides on a sample: the laboratory that is to have it, or the
        one that has it.
        """
        has_it = sample.holder is not None and sample.holder.org == org
        return org == self.bound_for(sample) or (has_it and org in self.laboratories)

    def arrival_of(self, sample: Sample) -> Moment | None:
        """When the laboratory that is to have this sample took it over, by its word; None when it does not
        say so.
        """
        lab = self.bound_for(sample)
        return next(
            (
                link.since
                for link in sample.links
                if isinstance(link.received.body, Received | TakenIn) and link.received.org == lab
            ),
            None,
        )

    def has_arrived(self, sample: Sample) -> bool:
        """Whether the laboratory that is to have this sample says that it took it over."""
        return self.arrival_of(sample) is not None

    @property
    def for_nothing(self) -> frozenset[tuple[str, str | None]]:
        """What was not for its signer to say and moved nothing: an entry by its digest, and the sample of
        which that is true; None: the whole entry.
        """
        return frozenset((odd.entry.digest, odd.sample) for odd in self.oddities if odd.code in _NOT_THEIRS)

    @property
    def live(self) -> Iterator[Sample]:
        """Samples that were collected and not voided."""
        return (sample for sample in self.samples.values() if sample.claims and not sample.void)

    @property
    def air(self) -> Iterator[Sample]:
        """Those of them that are cassettes: of what was taken from a surface nothing of air is asked."""
        return (sample for sample in self.live if not sample.surface)


_NOT_THEIRS: Final = frozenset({"collected-elsewhere", "decided-elsewhere", "taken-elsewhere"})
