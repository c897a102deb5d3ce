"""What a verification came to: plain data, every part of it for people and for programs.

`Report.to_json` gives it to programs; `report_text.render_text` to people. A `Fault` breaks the records; an
`UnreachedKey` leaves them without a verdict; a `Remark` is something an auditor must weigh, which honest
people also cause; an `Unchecked` names what this file alone cannot show.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, replace
from typing import Any, Final, Literal

from bailee.domain.numbers import grouped
from bailee.frozen import field, frozen
from bailee.ledger.entry import recorded_at
from bailee.presentation import words
from bailee.presentation.hand_overs import HolderView, StretchView
from bailee.presentation.sample_view import SampleView
from bailee.rules.registry import Finding
from bailee.rules.verdicts import Verdict
from bailee.verify.disclaimer import LIMITS

State = Literal[
    "complete and cosigned", "intact, not cosigned", "not all understood", "not under your keys", "broken"
]
"""The states of records, never one tick.

The first needs the cosignatures of others on the checkpoint; the third and fourth have no verdict.
"""

COSIGNED: Final[State] = "complete and cosigned"
INTACT: Final[State] = "intact, not cosigned"
NOT_UNDERSTOOD: Final[State] = "not all understood"
NOT_YOURS: Final[State] = "not under your keys"
BROKEN: Final[State] = "broken"


@frozen
class PlaceInFile:
    """Where in the file: the entry's index in the log, its chain and number there, and the sample, as far as
    known.
    """

    index: int | None = None
    chain: str | None = None
    n: int | None = None
    sample: str | None = None

    def __str__(self) -> str:
        parts = []
        if self.chain:
            parts.append(f"{self.chain} entry {self.n}" if self.n else self.chain)
        if self.index is not None:
            parts.append(f"log index {self.index}")
        if self.sample:
            parts.append(f"sample {grouped(self.sample)}")
        return ", ".join(parts) or "this file"


@frozen
class Fault:
    """Something that must not be: the verifier's `step` that saw it, a stable `code`, the exact place, one
    sentence.
    """

    step: int
    code: str
    place: PlaceInFile
    sentence: str


@frozen
class UnreachedKey:
    """A key that the auditor brought, and to which this file does not lead: mistyped, or the file is somebody
    else's.
    """

    code: str
    place: PlaceInFile
    sentence: str


@frozen
class Remark:
    """Something to weigh: a late or doubtful key, a clock that ran backwards."""

    code: str
    place: PlaceInFile
    sentence: str


@frozen
class Unchecked:
    """What could not be checked, and why."""

    code: str
    sentence: str


@frozen
class EntryLine:
    """One entry: who says it, and its window of time.

    `claimed` is the signer's own clock, `recorded` the log's. `not_before` is the recording of the newest
    entry that the signer's device had provably seen, None when it shows none. `not_after` is the earliest
    time at which a cosigner or time stamp authority that the auditor believes saw a log with it, None without
    any. `redacted` counts private fields signed but not shown; `told` are those shown.
    """

    index: int
    chain: str
    n: int
    act: str
    org: str
    kid: str
    person: str
    role: str
    claimed: str
    recorded: str
    not_before: str | None
    not_after: str | None
    redacted: int
    told: Mapping[str, str]


@frozen
class SecuredStretch:
    """How a holder secured a sample, over which stretch."""

    how: str
    where: str
    since: str
    until: str | None
    n: int

    @classmethod
    def of(cls, view: StretchView) -> SecuredStretch:
        """The stretch as programs read it."""
        until = view.until.text() if view.until else None
        return cls(words.SECURED[view.secured], view.where, view.since.text(), until, view.n)


@frozen
class Holding:
    """One link of custody in words.

    `claimed` and `recorded` are the two times of the entry it begins with, `n`.

    `gap_s` are the seconds between giving and receiving, where both halves are signed.
    """

    holder: str
    org: str
    received: str
    since: str
    claimed: str
    recorded: str
    n: int
    kept: tuple[SecuredStretch, ...]
    given: str | None
    until: str | None
    gap_s: int | None

    @classmethod
    def of(cls, view: HolderView) -> Holding:
        """The link as programs read it."""
        return cls(
            holder=view.name,
            org=view.org,
            received=view.received,
            since=view.since.text(),
            claimed=view.entry.at.text(),
            recorded=recorded_at(view.entry.rec),
            n=view.entry.n,
            kept=tuple(map(SecuredStretch.of, view.kept)),
            given=view.given,
            until=view.until.text() if view.until else None,
            gap_s=None if view.gap is None else int(view.gap.total_seconds()),
        )


@frozen
class SampleAccount:
    """One sample for programs: what was drawn, and everybody who held it.

    `volume_l` is computed from flow and seconds, rounded once. Of what was taken from a surface `kind` is the
    medium.
    """

    number: str
    kind: str
    status: str
    lot: str | None
    started: str | None
    run_s: int | None
    flow_lpm: str | None
    volume_l: str | None
    condition: tuple[str, ...]
    void: bool
    holdings: tuple[Holding, ...]

    @classmethod
    def of(cls, view: SampleView) -> SampleAccount:
        """The sample as programs read it."""
        body, surface = view.collected, view.surface
        return cls(
            number=view.number,
            kind=surface.medium if surface else view.air or "unknown",
            status="voided" if view.void else view.status,
            lot=view.lot_number,
            started=view.started.text() if view.started else None,
            run_s=body.run_s if body else None,
            flow_lpm=view.flow,
            volume_l=view.volume,
            condition=view.condition,
            void=view.void is not None,
            holdings=tuple(map(Holding.of, view.holders)),
        )


@frozen
class Signer:
    """One key that speaks in this file, and whose it is. `person` is empty when that is not disclosed."""

    kid: str
    org: str
    role: str
    person: str
    enrolled_n: int
    statements: int
    revoked: str | None


@frozen
class Endorsement:
    """Organization `by` says it knows `org` by the root key `root`: a word to weigh, never trust by itself.

    `fits`: that is the root by which `org` appears in this file. `pinned`: the auditor brought the root of
    `by`.
    """

    org: str
    root: str
    by: str
    fits: bool
    pinned: bool


@frozen
class Stamped:
    """A token says that the log of `size` entries existed at `at`; `text` is what it is over.

    `signed` says what became of its signature, and `authority` who made it when it was checked with a root
    that the auditor brought.
    """

    size: int
    at: str
    text: str
    signed: Literal["checked", "not believed", "not checked"] = "not checked"
    authority: str | None = None


@frozen
class CheckedWith:
    """What this report rests on: the file (SHA-256 in hexadecimal, empty when it did not come as bytes) and
    all that the auditor brought.

    `roots` by organization; keys of the log and, by the auditor's names, of cosigners as vkeys (C2SP
    signed-note); `stamp_roots` are SHA-256 of certificates; `program` is the version of this one. `printed`
    are leaf hashes of entries of the form as a paper shows them, by number.
    """

    sha256: str
    roots: Mapping[str, str]
    log_keys: tuple[str, ...]
    cosigners: Mapping[str, str]
    quorum: int
    stamp_roots: tuple[str, ...]
    program: str
    printed: Mapping[str, str]


@frozen
class Visit:
    """What the form is about.

    `told` are the private fields of its opening that are shown and stand at the head of a form, `on_site` is
    what was read there beside the cassettes, `requests` what the laboratory is asked for, `copies` which
    papers were issued.
    """

    day: str
    zone: str
    firm: str
    lab: str
    project: str | None
    told: Mapping[str, str]
    on_site: tuple[str, ...] = ()
    requests: tuple[str, ...] = ()
    copies: tuple[str, ...] = ()


@frozen
class Report:
    """Everything one verification found. `claims` are the exporter's own words, which nothing vouches for.

    `samples` are the read model that papers and pages show; `accounts` the same for programs. `cosigned`
    gives, by the auditor's name for each cosigner whose line holds, its time (POSIX seconds). `verdicts` are
    four when the form could be read, otherwise only that of the records. `unpinned` are organizations that
    speak here and whose root was not brought.
    """

    form: str
    origin: str | None
    size: int | None
    state: State
    at: str
    entries: tuple[EntryLine, ...]
    faults: tuple[Fault, ...]
    remarks: tuple[Remark, ...]
    verdicts: tuple[Verdict, ...]
    findings: tuple[Finding, ...]
    samples: tuple[SampleView, ...]
    signers: tuple[Signer, ...]
    visit: Visit | None
    redacted: int
    left_out: int
    not_checked: tuple[Unchecked, ...]
    unauthenticated: tuple[str, ...]
    checked_with: CheckedWith
    unpinned: tuple[str, ...] = ()
    endorsements: tuple[Endorsement, ...] = ()
    erased: int = 0
    stamps: tuple[Stamped, ...] = ()
    other_keys: tuple[UnreachedKey, ...] = ()
    claims: Mapping[str, Any] = field(default_factory=dict)
    cosigned: Mapping[str, int] = field(default_factory=dict)

    @property
    def lacks_cosigners(self) -> bool:
        """Whether fewer cosigned than the auditor asked for."""
        return len(self.cosigned) < self.checked_with.quorum

    @property
    def accounts(self) -> tuple[SampleAccount, ...]:
        """Every sample as `to_json` tells it."""
        return tuple(map(SampleAccount.of, self.samples))

    def to_json(self) -> dict[str, Any]:
        """Plain members for `json.dumps`; `state` says `broken` exactly when there are faults.

        A verdict names the rules of its findings; the findings themselves are told once. `limits` are the
        same in every report.
        """
        members = {**asdict(replace(self, samples=())), "limits": [asdict(each) for each in LIMITS]}
        members["samples"] = [asdict(each) for each in self.accounts]
        for verdict in members["verdicts"]:
            verdict["findings"] = [found["rule"] for found in verdict["findings"]]
        return members
