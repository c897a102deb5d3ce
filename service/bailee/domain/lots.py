"""What a lot's chain means: which sample numbers it was issued to, what is left of it, whether it is in date
on a day.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import date, datetime, timedelta
from decimal import Decimal

from bailee.domain.acts.lot import (
    MOST_AT_ONCE,
    Counted,
    ExpiryCorrected,
    Issued,
    Kind,
    LotReceived,
    Recalled,
    Released,
)
from bailee.domain.moments import last_day
from bailee.domain.policy import Policy
from bailee.domain.statements import Recorded
from bailee.frozen import field, frozen


@frozen
class IssuedTo:
    """One sample number bound to the lot: at which entry, to whose key, for which visit day."""

    n: int
    to: str | None
    visit: date | None


@frozen
class Recall:
    """From `since` (ledger time) to `until`, if it was lifted."""

    since: datetime
    reason: str
    until: datetime | None = None


@frozen
class Storage:
    """The coldest and warmest of a stretch of storage, degrees Celsius, and the entry that says so."""

    n: int
    coldest_c: Decimal | None
    warmest_c: Decimal | None


@frozen
class OtherExpiry:
    """A correction of the expiry: by whose key, at which entry, from what to what, and why."""

    n: int
    kid: str
    old: str | None
    new: str
    reason: str


@frozen
class Freshness:
    """A lot on one calendar day of whoever uses it: in date to its last good day, that day included.

    `left` is how many days follow until the last good one: 0 on that day itself, less than 0 when it is over.
    What a policy gives or wants counts from there: days of grace on which a cassette may still be used, and
    days before the end from which one is warned.

    Source: 49 CFR 40.199(b)(8) by analogy; inclusive days, grace and warning are common practice, no source.
    """

    last: date
    left: int
    grace: int
    near: int

    @property
    def past(self) -> int:
        """Days since the last good one; 0 while it is in date."""
        return max(0, -self.left)

    @property
    def in_date(self) -> bool:
        """Up to the last good day, whatever grace there is."""
        return not self.past

    @property
    def usable_to(self) -> date:
        """The last day of grace; without any, the last good day."""
        return self.last + timedelta(days=self.grace)

    @property
    def may_be_used(self) -> bool:
        """In date, or within the days of grace."""
        return self.past <= self.grace

    @property
    def is_near(self) -> bool:
        """In date, and not for long."""
        return self.in_date and self.left <= self.near


def freshness(last: date | None, on: date, policy: Policy) -> Freshness | None:
    """How a lot with this last good day stands on a day, by these thresholds.

    None when no date was entered.
    """
    if last is None:
        return None
    return Freshness(last, (last - on).days, policy.expiry_grace_days, policy.expiry_near_days)


@frozen
class Lot:
    """The state of `lot/<number>`. `expires` is the last good day, inclusive; None when the box names none.

    `issued_when_counted`: how many numbers were issued by the time of `counted`.
    """

    number: str
    org: str
    maker_lot: str
    cassette: Kind
    expiry: str | None
    nominal_flow: Decimal
    run_s: int
    count: int
    issued: Mapping[str, IssuedTo] = field(default_factory=dict)
    recalls: tuple[Recall, ...] = ()
    counted: Counted | None = None
    issued_when_counted: int = 0
    storage: tuple[Storage, ...] = ()
    other_expiries: tuple[OtherExpiry, ...] = ()
    length: int = 0

    @property
    def expires(self) -> date | None:
        """Last day on which a cassette may be used, that day included."""
        return last_day(self.expiry) if self.expiry else None

    def is_over(self, day: date) -> bool:
        """Whether its last day lies before this one, whatever days of grace a policy gives."""
        return bool(self.expires and day > self.expires)

    def on(self, day: date, policy: Policy) -> Freshness | None:
        """How it stands on a day; None when no expiry was entered."""
        return freshness(self.expires, day, policy)

    @property
    def left(self) -> int:
        """Cassettes on the shelf: by the newest count, or as they came in, less what was issued since."""
        if self.counted:
            return self.counted.remaining - (len(self.issued) - self.issued_when_counted)
        return self.count - len(self.issued)

    @property
    def newest_issue(self) -> tuple[str, ...]:
        """The numbers that were issued together last.

        A statement holds so many: what fills one and goes on in the next entry is one issue.
        """
        by_entry: dict[int, list[str]] = {}
        for number, issued in self.issued.items():
            by_entry.setdefault(issued.n, []).append(number)
        n = max(by_entry, default=0)
        found = by_entry.get(n, [])
        while len(by_entry.get(n := n - 1, ())) == MOST_AT_ONCE:
            found = [*by_entry[n], *found]
        return tuple(found)

    @property
    def recalled(self) -> Recall | None:
        """The recall in force now, if any."""
        return self.recalls[-1] if self.recalls and self.recalls[-1].until is None else None


def fold(entries: Iterable[Recorded]) -> Lot:
    """State after all `entries` (in order of `n`, the first being `lot_received`)."""
    stream = iter(entries)
    first = next(stream)
    body = first.body
    assert isinstance(body, LotReceived)
    state = Lot(
        first.chain.partition("/")[2],
        first.org,
        body.maker_lot,
        body.cassette,
        body.expiry,
        body.nominal_flow,
        body.run_s,
        body.count,
        storage=_storage(1, body),
        length=1,
    )
    for entry in stream:
        state = apply(state, entry)
    return state


def apply(state: Lot, entry: Recorded) -> Lot:
    """State after one more entry."""
    state = replace(state, length=entry.n)
    match entry.body:
        case Issued() as body:
            new = {
                number: IssuedTo(entry.n, body.to, body.visit)
                for number in body.samples
                if number not in state.issued
            }
            return replace(state, issued={**state.issued, **new})
        case Recalled() as body if not state.recalled:
            return replace(state, recalls=(*state.recalls, Recall(entry.rec, body.reason)))
        case Released() if state.recalled:
            return replace(state, recalls=(*state.recalls[:-1], replace(state.recalls[-1], until=entry.rec)))
        case Counted() as body:
            kept = (*state.storage, *_storage(entry.n, body))
            return replace(state, counted=body, issued_when_counted=len(state.issued), storage=kept)
        case ExpiryCorrected() as body if body.old == state.expiry:
            made = OtherExpiry(entry.n, entry.kid, body.old, body.new, body.reason)
            return replace(state, expiry=body.new, other_expiries=(*state.other_expiries, made))
        case _:
            return state


def _storage(n: int, body: LotReceived | Counted) -> tuple[Storage, ...]:
    read = body.coldest_c is not None or body.warmest_c is not None
    return (Storage(n, body.coldest_c, body.warmest_c),) if read else ()
